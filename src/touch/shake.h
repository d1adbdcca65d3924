/* shake.h: inside of the false-trip functions: what shake.c and shake_trace.c share. */
#ifndef TW_TOUCH_SHAKE_H
#define TW_TOUCH_SHAKE_H

#include "tripwright/touch_judge.h"

/* moment (x, y) that a sideways acceleration may still bring before a contact opens, N m */
double tw_shake_dead_left(const tw_shake *s, int axis);
/* node change of an effective acceleration (resonance included) along an axis, before any leak */
double tw_shake_signal(const tw_shake *s, int axis, double acceleration);
/* margin and what gives 2, from the effective peak `acceleration` = `amplification` x `applied` */
void tw_shake_fill(const tw_shake *s, int axis, double applied, double amplification, double share,
                   tw_shaken *out);

#endif
