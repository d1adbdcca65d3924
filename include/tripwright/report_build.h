/* report_build.h: the build sheet on paper: HTML for A4 or Letter, and its document.
 *
 * One sheet a unit, two pages as a rule, greyscale, nothing fetched from anywhere. Texts are owned
 * by the caller (tw_free).
 */
#ifndef TRIPWRIGHT_REPORT_BUILD_H
#define TRIPWRIGHT_REPORT_BUILD_H

#include "tripwright/batch_build.h"

#include <jansson.h>

typedef enum tw_paper { TW_PAPER_A4, TW_PAPER_LETTER } tw_paper;

typedef struct tw_build_paper {
  const tw_design *design;
  tw_units *units;
  tw_system system;
  const tw_build *build;
  const char *unit;   /* number of the unit, as it stands on it */
  const char *digest; /* SHA-256 of the design file */
  tw_paper paper;
  double section_mm; /* height of the section drawing on the last page */
} tw_build_paper;

/* what stands in the code of page `page` of `pages`: "TW1 U=007 R=3 D=9F31C2A4E0B7 S=2 P=1" */
void tw_build_code(const tw_build_paper *paper, size_t page, size_t pages, char *out, size_t size);

json_t *tw_document_build(const tw_build_paper *paper);
/* *pages (may be NULL): how many */
tw_status tw_build_html(const tw_build_paper *paper, char **html, size_t *pages, tw_fault *fault);

#endif
