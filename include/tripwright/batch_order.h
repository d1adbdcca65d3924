/* batch_order.h: how many pieces to order so that enough of them are good.
 *
 * Shares 0..1; thread-safe. Equations and sources: docs/models/batch.md 2.
 */
#ifndef TRIPWRIGHT_BATCH_ORDER_H
#define TRIPWRIGHT_BATCH_ORDER_H

#include "tripwright/batch.h"

/* what is known of the share of good pieces: the share itself, or what was counted so far */
typedef struct tw_share_known {
  bool counted;
  double share;     /* counted false */
  double good, bad; /* counted true: with Jeffreys' prior, Beta(good + 1/2, bad + 1/2) */
} tw_share_known;

/* chance that at least `good` of `count` are good: binomial, or beta-binomial when counted */
double tw_enough(const tw_share_known *known, int good, int count);

/* no order grows beyond so many times the wanted number */
#define TW_ORDER_FACTOR 10
/* the least number with tw_enough >= sure; 0 when TW_ORDER_FACTOR x good are not enough */
int tw_order_least(const tw_share_known *known, int good, double sure);

#define TW_KINDS_MOST 24
typedef struct tw_order_kind {
  tw_share_known known;
  int good;     /* pieces that must be good */
  double price; /* of one more piece */
} tw_order_kind;

typedef struct tw_orders {
  int count[TW_KINDS_MOST];
  double pay, chance;       /* that all kinds are enough at once */
  int alone[TW_KINDS_MOST]; /* each for itself at `sure` */
  double chance_alone;      /* that all are enough with those */
  bool proven;              /* every cheaper choice was tried */
} tw_orders;

/* The cheapest numbers with which all kinds are enough at once with `sure`. TW_NO_ANSWER, with the
 * kind, when TW_ORDER_FACTOR times the wanted number are not enough. */
tw_status tw_order_all(const tw_order_kind *kind, size_t kinds, double sure, tw_orders *out,
                       tw_fault *fault);

/* share of a normal law within [low, high] when its stated +-tolerance (two standard deviations)
 * surrounds `middle`; hole: what lies nearer to the middle was sorted out (0: nothing) */
double tw_share_within(double middle, double tolerance, double low, double high, double hole);

/* Most pairs (one of each list) that can be formed so that good[a * bs + b]; `mate` (may be NULL)
 * gets for each a its b, or SIZE_MAX. Allocates for the search. */
tw_status tw_pairs_most(const bool *good, size_t as, size_t bs, size_t *mate, size_t *most,
                        tw_fault *fault);

#endif
