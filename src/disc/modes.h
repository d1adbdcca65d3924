/* modes.h: resonances without direction (n = 0). */
#ifndef TW_DISC_MODES_H
#define TW_DISC_MODES_H

#include "rings.h"

typedef struct tw_mode_ask {
  double mass, radius; /* kg, ring that moves with the disc */
  double capacitance;  /* F, blocked and outside together; TW_DISC_SHORT = short circuit */
  int elements;        /* a radius */
  int count;           /* modes wanted, rigid motion not counted, at most TW_DISC_MODES */
} tw_mode_ask;

#define TW_DISC_MODES 4

/* frequencies in hertz, rising. TW_NO_MEMORY; TW_NO_ANSWER when the iteration does not settle. */
tw_status tw_modes_find(const tw_laminate *lam, const tw_hold *hold, tw_mode_ask ask,
                        double hertz[TW_DISC_MODES], tw_fault *fault);

#endif
