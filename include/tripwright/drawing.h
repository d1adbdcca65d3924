/* drawing.h: pictures of a design to scale, as SVG.
 *
 * The section through the axis, and flat parts that can be printed at 1:1 and cut out. Sheet sizes
 * are millimetres of paper; everything of the probe is taken from the design in SI. Every part of
 * the section is a group with its name, its key figure and the design fields it belongs to, so that
 * the page can lift it and open its fields. Line types after ISO 128: thick visible outlines, thin
 * dimensions and hatching, long-dash-dot centre line, long-dash-double-dot ghosts.
 * Pure functions of a design: nothing is kept, any number of threads. Texts are owned by the caller
 * (tw_free).
 */
#ifndef TRIPWRIGHT_DRAWING_H
#define TRIPWRIGHT_DRAWING_H

#include "tripwright/base.h"
#include "tripwright/design.h"

/* what the disc of a section is shaded by; the magnifier then shows half the disc, and a legend
 * says unit and range */
typedef enum tw_shade {
  TW_SHADE_NONE,
  TW_SHADE_CHARGE, /* C/N of a push at that radius (docs/models/disc.md, reciprocity) */
  TW_SHADE_STRESS  /* Pa/N under a push from the carrier: the larger of radial and hoop, short */
} tw_shade;
/* "none", "charge", "stress"; false for another word */
bool tw_shade_read(const char *word, tw_shade *shade);

typedef struct tw_drawing_options {
  double width, height; /* of the sheet in mm; 0: 180 x 250, which prints on A4 and Letter */
  double scale;         /* 2 for 2:1; 0: the largest usual scale that fits the sheet */
  bool standalone;      /* a file of its own, with its style sheet; false: to stand in a page */
  bool ghosts;          /* crash travel and swivel */
  bool dimensions;
  tw_shade shade; /* of the section's disc */
  tw_system system;
  const char *date;  /* for the title block, or NULL */
  const char *basis; /* what the figures rest on, for the title block, or NULL */
} tw_drawing_options;

/* 180 x 250 mm, fitting scale, standalone, ghosts and dimensions, metric, no date */
tw_drawing_options tw_drawing_defaults(void);

/* The pictures by name, in the order of the help: "section", "foam-ring", ... */
size_t tw_drawing_count(void);
const char *tw_drawing_name(size_t index);  /* NULL past the last */
const char *tw_drawing_about(size_t index); /* one line */

/* Draw the picture `name`. TW_BAD_INPUT when there is none of that name, when this design has no
 * such part (`field` names what would make one), or when it does not fit the sheet at the scale
 * asked for; TW_NO_MEMORY. */
tw_status tw_drawing_make(const char *name, const tw_design *design,
                          const tw_drawing_options *options, char **svg, tw_fault *fault);

/* One direction of a rose: azimuth in degrees, force in N and pretravel in m at the trip; not
 * finite where there is no trip. */
typedef struct tw_rose_point {
  double azimuth_deg, force, pretravel;
} tw_rose_point;

/* The rose of trip force and pretravel over the azimuth, seen from above looking down the spindle:
 * X to the right, Y up, azimuth counter-clockwise; the seat's own directions stand on the rim.
 * `points` in order of azimuth. TW_BAD_INPUT when there is no trip in any direction. */
tw_status tw_drawing_rose(const tw_design *design, const tw_rose_point *points, size_t count,
                          const tw_drawing_options *options, char **svg, tw_fault *fault);

#endif
