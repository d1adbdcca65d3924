/* drawings.h: the pictures behind tw_drawing_make. */
#ifndef TW_REPORT_DRAWINGS_H
#define TW_REPORT_DRAWINGS_H

#include "tripwright/drawing.h"

typedef tw_status tw_draw_fn(const tw_design *design, const tw_drawing_options *options, char **svg,
                             tw_fault *fault);
tw_draw_fn tw_drawing_section;
tw_draw_fn tw_drawing_foam_ring;
tw_draw_fn tw_drawing_gasket;
tw_draw_fn tw_drawing_drilling;

#endif
