/* sheet.h: the drawing sheet: frame, hatchings, parts with their labels, title block, scale bar. */
#ifndef TW_REPORT_SHEET_H
#define TW_REPORT_SHEET_H

#include "plan.h"
#include "svg.h"
#include "tripwright/drawing.h"

enum { TW_SHEET_LABELS = 20, TW_SHEET_TEXT = 96 };

/* hatch of a material; the same names in web/src/drawing.css */
#define TW_HATCH_HOUSING "hatch-housing"
#define TW_HATCH_HOLDER  "hatch-holder"
#define TW_HATCH_METAL   "hatch-metal"
#define TW_HATCH_CERAMIC "hatch-ceramic"
#define TW_HATCH_FOAM    "hatch-foam"
#define TW_HATCH_BOARD   "hatch-board"
#define TW_HATCH_CARRIER "hatch-carrier"

typedef struct tw_label {
  const char *part, *name;
  char key[TW_SHEET_TEXT]; /* key figure */
  double x, y;             /* on the sheet: where the leader points */
} tw_label;

typedef struct tw_sheet {
  tw_text svg;
  const tw_drawing_options *options;
  const tw_design *design;
  tw_view view;
  double width, height;
  bool narrow; /* numbered balloons and a list instead of leaders */
  int labels;
  tw_label label[TW_SHEET_LABELS];
} tw_sheet;

/* put the frame around what has been drawn; the text, or NULL with a fault when memory ran out */
tw_status tw_sheet_close(tw_sheet *sheet, const char *title, const char *about, char **out,
                         tw_fault *fault);

/* a group for one part: `fields` is the group of design fields that opens on a click; `key` its key
 * figure; the leader points to (x, z) of the probe */
void tw_sheet_part(tw_sheet *sheet, const char *part, const char *name, const char *fields,
                   double x, double z, const char *key, ...) __attribute__((format(printf, 7, 8)));
void tw_sheet_part_end(tw_sheet *sheet);
/* the next marks are cut faces of a material; NULL: without hatching */
void tw_sheet_cut(tw_sheet *sheet, const char *hatch);
void tw_sheet_cut_end(tw_sheet *sheet);

/* Labels on the right, between x and the sheet's edge; or numbered balloons along the right edge
 * with their list from y down. Both return where the next thing may start. */
double tw_sheet_labels_beside(tw_sheet *sheet, double x, double y_top, double y_bottom);
double tw_sheet_labels_list(tw_sheet *sheet, double y_top, double y_bottom, double y);

void tw_sheet_title_block(tw_sheet *sheet, double x, double y, double width, const char *scale,
                          const char *what);
enum { TW_TITLE_HEIGHT = 31 };
void tw_sheet_scale_bar(tw_sheet *sheet, double x, double y, double scale);
/* a line of 50 mm to be checked with a rule after printing */
void tw_sheet_check_line(tw_sheet *sheet, double x, double y);

/* a length as the sheet shows it: "9.3 mm", "0.366 in"; one buffer a call */
typedef struct tw_shown {
  char text[32];
} tw_shown;
tw_shown tw_sheet_length(const tw_sheet *sheet, double metres);
/* small ones: "60 um", "2.4 thou" */
tw_shown tw_sheet_fine(const tw_sheet *sheet, double metres);
/* the bare number, for dimensions, as drawings have it */
tw_shown tw_sheet_plain(const tw_sheet *sheet, double metres);
tw_shown tw_sheet_round(const tw_sheet *sheet, double diameter); /* with the diameter sign */

/* the largest usual scale not above `scale`, and its text "2:1" */
double tw_scale_below(double scale);
tw_shown tw_scale_text(double scale);

#endif
