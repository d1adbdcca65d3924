/* fast_tables.h: the tables of the fast level and how they are made; inside the room only. */
#ifndef TW_STUDY_FAST_TABLES_H
#define TW_STUDY_FAST_TABLES_H

#include "inside.h"

#include "tripwright/study_fast.h"

enum {
  FAST_NODES = 5,  /* engine builds along one feature, the middle among them */
  FAST_CELLS = 32, /* of the table that is read */
  FAST_OF_DIRECTION = 3
};

/* What varies: one input, or one of the two coordinates of an eccentricity whose direction is
 * drawn all round (its size alone and its direction alone say nothing). */
typedef struct fast_feature {
  size_t input, azimuth; /* azimuth: the input of the direction, SIZE_MAX for a plain input */
  bool across;           /* of the pair: size x sin, else size x cos */
  double from, per;      /* first end of the table, cells per unit */
  size_t nodes;          /* engine builds beside the middle */
  double node[FAST_NODES];
} fast_feature;

/* Which directions trip and which outputs have a number. */
typedef struct fast_pattern {
  bool possible; /* false: the build has no answer at all */
  bool tripped[TW_DIRECTIONS_OF_MAP + 361];
  unsigned char outcome[TW_MEASURE_COUNT];
} fast_pattern;

/* What is tabulated: force, travel and return offset of each direction, then the outputs. */
struct tw_fast {
  size_t features, quantities, directions;
  fast_feature feature[TW_FIELD_COUNT];
  double middle[TW_FIELD_COUNT];         /* the build that all tables start from */
  bool used[TW_DIRECTIONS_OF_MAP + 361]; /* directions that an output is made of */
  fast_pattern pattern;                  /* of the middle: the tables hold for builds like it */
  double *base;                          /* quantities at the middle (logarithms where `product`) */
  bool *product;                         /* ratios multiply; else differences add */
  double *table;                         /* features x (FAST_CELLS + 1) x quantities */
  tw_fast_check check;
};

/* the value of a feature in build x */
double tw_fast_at(const fast_feature *feature, const double *x);
/* the features of a study over the laws of its inputs, and the middle of them all */
void tw_fast_list_features(const tw_study *study, tw_fast *fast);
/* x of the build at one node of one feature, all else in the middle */
void tw_fast_node(const tw_fast *fast, size_t feature, size_t node, double *x);
/* all quantities of build x */
void tw_fast_look_up(const tw_fast *fast, const double *x, double *quantity);
/* the directions that the outputs are made of */
void tw_fast_find_used(const tw_study *study, tw_fast *fast);
/* the outputs from the quantities */
void tw_fast_outputs(const tw_study *study, const tw_fast *fast, const double *quantity, double *y,
                     unsigned char *outcome);
/* the quantities of one engine build, and which of them are numbers */
void tw_fast_take(const tw_study *study, const tw_fast *fast, const tw_direction *direction,
                  const tw_assessment *result, double *quantity, fast_pattern *pattern);
/* are the same quantities numbers? */
bool tw_fast_alike(const tw_study *study, const tw_fast *fast, const fast_pattern *pattern);

#endif
