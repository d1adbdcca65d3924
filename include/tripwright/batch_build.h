/* batch_build.h: the build sheet: operations in their order, what to hold and read at each, and
 * which check of the bench card is made when.
 *
 * The rules are rows of batch_build.def; nothing of the order stands in code. A tw_build is a plain
 * value; it points into the design and the card, which must outlive it. Model: docs/models/batch.md
 * 4.
 */
#ifndef TRIPWRIGHT_BATCH_BUILD_H
#define TRIPWRIGHT_BATCH_BUILD_H

#include "tripwright/batch_build.def"
#include "tripwright/bench.h"
#include "tripwright/design.h"

/* ---- rules ----------------------------------------------------------------------------------- */

typedef enum tw_caution {
#define X(id, text) TW_CAUTION_##id,
  TW_CAUTIONS(X)
#undef X
      TW_CAUTION_COUNT
} tw_caution;
const char *tw_caution_text(tw_caution caution);

/* one row; texts are constants */
typedef struct tw_operation {
  const char *id, *when, *needs, *adds, *closes, *disturbs, *parts;
  bool hold;
  tw_caution caution;
  const char *text;
} tw_operation;

size_t tw_operation_count(void);
const tw_operation *tw_operation_at(size_t index); /* NULL past the last */

#define TW_BUILD_STEPS 64

/* The order of n rows: always the first whose needs are there. TW_BAD_INPUT with the rows that can
 * never be done, and what they miss. order[n] are indices. */
tw_status tw_build_order(const tw_operation *row, size_t n, size_t *order, tw_fault *fault);
/* The moments of a check with these needs: after position *first of the order, before position
 * *last (n: at any time after). False: never, because a state is closed before another is there, or
 * no row adds it. */
bool tw_build_window(const tw_operation *row, const size_t *order, size_t n, const char *needs,
                     size_t *first, size_t *last);

/* ---- of a design -------------------------------------------------------------------------------
 */

#define TW_BUILD_FIELDS 48
#define TW_BUILD_CHECKS (2 * TW_BENCH_COUNT)

typedef struct tw_build_check {
  const tw_bench_check *check;
  size_t line;   /* after which it is made */
  size_t before; /* not later than before this line; lines: at any time */
  bool again;    /* made once before: an operation between has disturbed it */
} tw_build_check;

typedef struct tw_build_field {
  tw_field field;
  size_t line;
  double low, high; /* as they may be read on the gauge, SI */
  bool guarded;     /* drawn in by the gauge's uncertainty */
} tw_build_field;

typedef struct tw_build {
  size_t lines;
  tw_operation line[TW_BUILD_STEPS]; /* in order */
  size_t fields;
  tw_build_field field[TW_BUILD_FIELDS]; /* by line */
  size_t checks;
  tw_build_check check[TW_BUILD_CHECKS]; /* by line */
  size_t unplaced;                       /* checks of the card that no moment fits */
  const tw_bench_check *left[TW_BENCH_COUNT];
  size_t loose; /* toleranced fields that no operation makes */
  tw_field loose_field[TW_BUILD_FIELDS];
} tw_build;

/* `card` may be NULL: no checks. `gauge_u` is the standard uncertainty of the gauge for lengths (m;
 * 0: not stated): limits are drawn in by 1.645 of it where it is over a tenth of the tolerance. A
 * row may be left out (its index; SIZE_MAX: none), for tests of the rules. */
tw_status tw_build_of(const tw_design *design, const tw_bench_card *card, double gauge_u,
                      size_t left_out, tw_build *out, tw_fault *fault);

/* ---- the code ----------------------------------------------------------------------------------
 */

/* A two-dimensional code (ISO/IEC 18004, level Q) of a text as an SVG of `mm` on a side, with its
 * quiet zone; owned by the caller (tw_free). TW_BAD_INPUT for a text that is too long. */
tw_status tw_code_svg(const char *text, double mm, char **svg, tw_fault *fault);

#endif
