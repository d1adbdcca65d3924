/* making.h: private: the steps of making a model. */
#ifndef TW_SEAT_MAKING_H
#define TW_SEAT_MAKING_H

#include "engine.h"

/* parts checked and taken over, not yet at rest */
tw_status tw_seat_model_build(const tw_seat_parts *parts, tw_seat_model **out, tw_fault *fault);
/* bring it to rest and fill model->rest and model->answer */
tw_status tw_seat_model_settle(tw_seat_model *m, bool closing_free, tw_fault *fault);
/* fill model->symmetry of a model at rest whose places on the disc are known (symmetry.c) */
void tw_seat_find_symmetry(tw_seat_model *m);

#endif
