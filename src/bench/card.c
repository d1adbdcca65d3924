/* card.c: the bench card of a design. */
#include "tripwright/bench_suspect.h"

/* what the bench foresees is the figure of the model, whatever the requirements say */
static tw_status make(const tw_design *design, const tw_bench_instruments *instruments, int threads,
                      tw_assessment *assessment, tw_bench_inputs *inputs, tw_bench_card *out,
                      tw_fault *fault)
{
  tw_probe *probe = NULL;
  tw_assess_options options = tw_assess_defaults();
  options.threads = threads > 0 ? threads : options.threads;
  options.map = options.timed = options.contributions = false;
  tw_status status = tw_probe_new(design, &probe, fault);
  status = status == TW_OK ? tw_assess(design, &options, assessment, fault) : status;
  if (status == TW_OK) {
    status = tw_bench_inputs_from(design, probe, assessment, instruments, inputs, fault);
  }
  tw_probe_free(probe);
  return status == TW_OK ? tw_bench_card_of(inputs, instruments, out, fault) : status;
}

tw_status tw_bench_card_from(const tw_design *design, const tw_bench_instruments *instruments,
                             int threads, tw_bench_card *out, tw_fault *fault)
{
  const tw_bench_instruments usual = tw_bench_instruments_default();
  tw_bench_inputs *inputs = tw_alloc(1, sizeof *inputs);
  tw_assessment *assessment = tw_alloc(1, sizeof *assessment);
  const tw_status status = inputs && assessment
                               ? make(design, instruments ? instruments : &usual, threads,
                                      assessment, inputs, out, fault)
                               : tw_fail(fault, TW_NO_MEMORY, NULL, NULL, "no memory for the card");
  tw_free(assessment);
  tw_free(inputs);
  return status;
}
