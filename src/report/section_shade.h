/* section_shade.h: the disc of a section shaded by what a push does to it. */
#ifndef TW_REPORT_SECTION_SHADE_H
#define TW_REPORT_SECTION_SHADE_H

#include "sheet.h"

/* cells along the radius, and through each layer; steps of the scale to either side of zero */
enum { TW_SHADE_CELLS = 48, TW_SHADE_DEPTHS = 6, TW_SHADE_STEPS = 3 };

/* One layer from its lower face (towards the tip) up; value per newton at the middle of a cell. */
typedef struct tw_shaded_layer {
  double low, high, radius; /* m, of the plan */
  double value[TW_SHADE_DEPTHS][TW_SHADE_CELLS];
} tw_shaded_layer;

typedef struct tw_shading {
  tw_shade kind;
  bool known;
  char why[160]; /* why there is none, when not known */
  double hole, edge;
  int layers;
  tw_shaded_layer layer[2];
  double least, most;                      /* smallest and largest value, C/N or Pa/N */
  double least_r, least_z, most_r, most_z; /* where */
} tw_shading;

/* Solve the disc and fill the cells; kind none or a probe without a disc: nothing is known. Only
 * TW_NO_MEMORY is a failure. */
tw_status tw_section_shading(const tw_layout *plan, tw_shade kind, tw_shading *out,
                             tw_fault *fault);

/* the step of the scale, -TW_SHADE_STEPS .. TW_SHADE_STEPS */
int tw_section_shade_step(const tw_shading *shading, double value);

/* the cells onto the sheet: x = x0 + across r, y = y0 - tall z (mm a metre); `both`: the left half
 * as well */
void tw_section_shade_cells(tw_sheet *sheet, const tw_shading *shading, double x0, double y0,
                            double across, double tall, bool both);
/* where the largest of each sign stands: a triangle up and a triangle down */
void tw_section_shade_marks(tw_sheet *sheet, const tw_shading *shading, double x0, double y0,
                            double across, double tall);
/* unit, steps and range, centred on x from y down; returns the height it takes */
double tw_section_shade_legend(tw_sheet *sheet, const tw_shading *shading, double x, double y);
enum { TW_SHADE_LEGEND_HEIGHT = 26 };

#endif
