/* measure_timed.c: what only time can say. */
#include "fill.h"

tw_status tw_measure_timed(tw_run *run, tw_fault *fault)
{
  (void)run;
  (void)fault;
  return TW_OK;
}
