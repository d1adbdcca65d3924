/* not_judged.c: what no figure of an assessment speaks of, in words, so that nobody reads it in. */
#include "tripwright/assess.h"

size_t tw_assess_not_judged(const tw_design *design, tw_not_judged out[TW_NOT_JUDGED])
{
  size_t n = 0;
  out[n++] = (tw_not_judged){
      "wear",
      "seats, tip and points wear by pairing, finish, dirt and load; no law of wear is known for "
      "your "
      "parts. Repeat the weights of `expect` and a ring of `repeat` after some thousand touches: a "
      "trip force or a pretravel that moves on is wear or dirt."};
  out[n++] = (tw_not_judged){
      "number of touches", "the stress ratios hold for one load to the end of the crash travel, "
                           "not for a count of loads: "
                           "fatigue of ceramic, solder joints, stem and springs is not computed."};
  if (tw_design_choice(design, TW_F_circuit_kind) == TW_CIRCUIT_CONTACT) {
    out[n++] =
        (tw_not_judged){"life of the contacts",
                        "opening contacts erode and grow films by current, voltage and air; their "
                        "resistance in use is "
                        "not foreseen. Measure it closed, and again after some thousand touches."};
  } else {
    out[n++] = (tw_not_judged){
        "ageing of the disc",
        "the poled ceramic loses charge per newton with time, heat and load; rows of the library "
        "give "
        "the value of new discs. `measured.charge_per_newton` states what yours has left."};
  }
  out[n++] = (tw_not_judged){
      "creep after the first month",
      "`preload.relaxation` stands for 30 days; how print, adhesive or foam give way later is not "
      "foreseen. Read the preload again with a scale (`expect`)."};
  return n;
}
