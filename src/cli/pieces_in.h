/* pieces_in.h: laws of a batch from the command line: lists of measured pieces, grades from which
 * the better pieces were sorted out. */
#ifndef TW_CLI_PIECES_IN_H
#define TW_CLI_PIECES_IN_H

#include "study_in.h"

#define TW_PIECES_LISTS 32 /* most lists of one command */

#define TW_PIECES_OPTIONS                                                                          \
  {"pieces", "PATH=A,B,...",                                                                       \
   "the pieces at hand: a value is drawn among these (A*3: three of "                              \
   "them); or FILE.csv with one column a field, one line a piece",                                 \
   true},                                                                                          \
  {                                                                                                \
    "sorted-out", "PATH=SHARE",                                                                    \
        "parts closer to nominal than this were already picked out (1%, or with a unit)", true     \
  }

/* the lists and how their columns go together; the numbers are owned here */
typedef struct tw_pieces {
  size_t lists;
  struct tw_pieces_list {
    size_t input, count;
    double *value, *weight; /* weight NULL: all equal */
    int file;               /* lists of one file are drawn line by line; -1: a list of its own */
  } list[TW_PIECES_LISTS];
} tw_pieces;

/* The lists of --pieces as inputs of the study with their law; before tw_study_add_toleranced,
 * which leaves them alone. Faults are reported. */
tw_exit tw_cli_pieces(tw_cli_study *s, tw_pieces *out);
/* the grades of --sorted-out; after tw_study_add_toleranced */
tw_exit tw_cli_sorted_out(tw_cli_study *s);
/* columns of one file go together: correlations of 1 are added to c[*count], up to `most` */
tw_exit tw_cli_pieces_together(const tw_cli_study *s, const tw_pieces *pieces, tw_correlation *c,
                               size_t *count, size_t most);
/* is this input a column of a file, drawn line by line? */
bool tw_cli_pieces_of_file(const tw_pieces *pieces, size_t input);
void tw_cli_pieces_free(tw_pieces *pieces);

#endif
