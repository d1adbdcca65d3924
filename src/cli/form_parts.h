/* form_parts.h: what the fits, the tests and the words of `form` share. */
#ifndef TW_CLI_FORM_PARTS_H
#define TW_CLI_FORM_PARTS_H

#include "foreseen_in.h"
#include "readings_in.h"

/* residuals of more points than that are shown only in the CSV */
#define TW_RESIDUALS 100000

/* what stands between reading and printing */
typedef struct tw_form_job {
  tw_cli *cli;
  const char *kind;
  double *point, *residual;
  size_t n, dimensions;
  tw_artefact artefact; /* of --test */
  long orders;          /* of --harmonics, 0: not asked for */
  double tip;           /* effective diameter, 0 if the points are corrected already */
  tw_record *foreseen;  /* of --test: one figure, with what --foreseen says of it */
  json_t *document;
  bool lost; /* a part of the document found no memory */
} tw_form_job;

/* ---- words and document ------------------------------------------------------------------------
 */

bool tw_form_in_words(const tw_form_job *j);
void tw_form_put(tw_form_job *j, const char *key, json_t *value);
void tw_form_put_quantity(tw_form_job *j, const char *key, double value, const char *unit);
/* six figures of the position are a micrometre in a metre: positions are shown to 0.01 um, sizes
 * too, forms to 0.1 nm */
void tw_form_say_mm(const tw_form_job *j, const char *what, double value);
void tw_form_say_um(const tw_form_job *j, const char *what, double value);
void tw_form_say_vector(const tw_form_job *j, const char *what, const double *v, size_t n,
                        double per, const char *unit);
/* a figure that nobody can know yet, and what it takes */
void tw_form_say_open(const tw_form_job *j, const char *what, const char *why);
/* points that are far off by the residuals of a least-squares fit, and points that are there twice:
 * named, kept; NULL: nobody asked for residuals */
tw_status tw_form_say_odd(tw_form_job *j, const double *residual, tw_fault *fault);

/* ---- ring and sphere tests ---------------------------------------------------------------------
 */

/* what the design of --foreseen says of the form error, before anything is measured: a ring goes
 * round the side, a sphere over all directions */
tw_exit tw_form_foresee(tw_form_job *j, bool ring);
/* the artefact of --test: diameter given, the rest may be */
bool tw_form_artefact_of(tw_form_job *j, tw_artefact *out);
tw_status tw_form_put_test(tw_form_job *j, tw_form form, tw_fault *fault);

#endif
