/* warn_sign.c: a pulse that goes the wrong way for the circuit, in one sentence. */
#include "hold.h"

#include <math.h>

/* would the touch trip if the circuit saw either sign? */
static bool trips_the_other_way(const tw_run *run, size_t at)
{
  const tw_seat_touch_result *touch = &run->touch[at];
  tw_seat_options options = run->probe->touch;
  tw_seat_touch_result other;
  if (touch->state != TW_SEAT_NO_TRIP || options.polarity == 0) {
    return false;
  }
  options.polarity = 0;
  return tw_seat_touch(run->probe->seat, run->work, touch->azimuth, touch->elevation, &options,
                       &other, NULL) == TW_OK &&
         other.state == TW_SEAT_TRIPPED && other.charge * run->probe->touch.polarity < 0;
}

void tw_warn_sign(const tw_run *run)
{
  const tw_probe *probe = run->probe;
  if (!run->touch || !probe->seat || probe->board.kind == TW_BOARD_CONTACT ||
      probe->rest.backed) { /* a disc on its backing is deaf before it is wrong */
    return;
  }
  size_t side = 0;
  bool right = run->touch[run->pole].state == TW_SEAT_TRIPPED; /* somewhere */
  const bool axis = trips_the_other_way(run, run->pole);
  for (size_t i = 0; i < run->sides; i++) {
    right |= run->touch[i].state == TW_SEAT_TRIPPED;
    side = run->touch[i].state == TW_SEAT_NO_TRIP ? i : side;
  }
  if (!axis && !(run->sides > 0 && trips_the_other_way(run, side))) {
    return;
  }
  const bool rising = probe->board.polarity == TW_SEES_RISING;
  const char *goes = rising ? "fall" : "rise", *needs = rising ? "rises" : "falls";
  if (!right) {
    run->out->state = TW_MEASURE_WRONG_SIGN;
    tw_warn(run->out, "disc.poling",
            "The pulse has the wrong sign: a push makes the comparator's input %s, and the circuit "
            "trips when it %s. Swap the disc's two wires (disc.poling) or set circuit.polarity to "
            "%s.",
            goes, needs, rising ? "falling" : "rising");
  } else {
    tw_warn(run->out, "circuit.polarity",
            "The pulse has the wrong sign %s: there a push makes the comparator's input %s, and "
            "the circuit trips when it %s. Set circuit.polarity to both.",
            axis ? "along the axis" : "sideways", goes, needs);
  }
}
