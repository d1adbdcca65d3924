/* section_parts.h: the pieces of the section drawing; each draws its parts onto the sheet. */
#ifndef TW_REPORT_SECTION_PARTS_H
#define TW_REPORT_SECTION_PARTS_H

#include "section_shade.h"
#include "sheet.h"

/* section_carrier.c, in signal order from the tip */
void tw_section_stylus(tw_sheet *sheet, const tw_layout *plan);
void tw_section_carrier(tw_sheet *sheet, const tw_layout *plan);
void tw_section_seat(tw_sheet *sheet, const tw_layout *plan);
/* section_disc.c */
void tw_section_disc(tw_sheet *sheet, const tw_layout *plan, const tw_shading *shading);
void tw_section_support(tw_sheet *sheet, const tw_layout *plan);
/* with its names, and a legend when the disc is shaded: returns the height that takes below them */
double tw_section_magnifier(tw_sheet *sheet, const tw_layout *plan, const tw_shading *shading,
                            double x, double y, double radius);
/* section_housing.c */
void tw_section_preload(tw_sheet *sheet, const tw_layout *plan);
void tw_section_board(tw_sheet *sheet, const tw_layout *plan);
void tw_section_holddown(tw_sheet *sheet, const tw_layout *plan);
void tw_section_link(tw_sheet *sheet, const tw_layout *plan);
void tw_section_housing(tw_sheet *sheet, const tw_layout *plan);
void tw_section_screws(tw_sheet *sheet, const tw_layout *plan);
void tw_section_ghosts(tw_sheet *sheet, const tw_layout *plan);

#endif
