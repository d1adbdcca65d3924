/* card.c: the bench card of a design. */
#include "suspect_parts.h"

/* everything a card is made with and from */
typedef struct making {
  const tw_design *design;
  tw_bench_instruments with;
  int threads;
  tw_probe *probe;
  tw_assessment *assessment;
  tw_bench_inputs *inputs;
  tw_bench_card *out;
  bool turned; /* the assessment is there already */
} making;

/* steps of a touch (tw_seat_options) where only the direction of the largest force is looked for */
#define QUICK_STEPS 8

/* The forces that trip, for the directions in which the weights are hung; everything else on the
 * card comes from the probe. `quick`: the directions will do. */
static tw_status assess_forces(making *m, bool quick, tw_fault *fault)
{
  static const tw_measure_set forces = {
      .has = {[TW_M_trip_force_side] = true, [TW_M_trip_force_axial] = true}};
  tw_assess_options options = tw_assess_defaults();
  options.probe = m->probe;
  options.wanted = &forces;
  options.threads = m->threads > 0 ? m->threads : options.threads;
  options.map = options.timed = options.contributions = false;
  m->probe->touch.steps = quick ? QUICK_STEPS : 0;
  const tw_status status = tw_assess(m->design, &options, m->assessment, fault);
  m->probe->touch.steps = 0;
  return status;
}

static tw_status write_card(making *m, tw_fault *fault)
{
  tw_status status =
      tw_bench_inputs_from(m->design, m->probe, m->assessment, &m->with, m->inputs, fault);
  status = status == TW_OK ? tw_bench_card_of(m->inputs, &m->with, m->out, fault) : status;
  if (status == TW_OK) {
    m->out->state = m->probe->state;
    m->out->trouble = m->probe->trouble;
  }
  return status;
}

/* what the bench foresees is the figure of the model, whatever the requirements say */
static tw_status make(making *m, tw_card_worth worth, void *self, bool *weighed, tw_fault *fault)
{
  tw_status status = m->with.without_resonances ? tw_probe_new_to_touch(m->design, &m->probe, fault)
                                                : tw_probe_new(m->design, &m->probe, fault);
  *weighed = !m->with.without_weights;
  if (status == TW_OK && *weighed && worth) {
    m->with.without_weights = true;
    status = write_card(m, fault);
    *weighed = status == TW_OK && worth(self, m->out);
    m->with.without_weights = false;
    if (!*weighed) {
      return status;
    }
  }
  if (status == TW_OK && *weighed && !m->turned) {
    status = assess_forces(m, worth != NULL, fault);
  }
  return status == TW_OK ? write_card(m, fault) : status;
}

tw_status tw_bench_card_with(const tw_design *design, const tw_bench_instruments *instruments,
                             int threads, bool turned, tw_assessment *forces,
                             tw_bench_inputs *inputs, tw_bench_card *out, tw_fault *fault)
{
  bool weighed = false;
  making m = {.design = design,
              .with = instruments ? *instruments : tw_bench_instruments_default(),
              .threads = threads,
              .assessment = forces,
              .inputs = inputs,
              .out = out,
              .turned = turned};
  const tw_status status = make(&m, NULL, NULL, &weighed, fault);
  tw_probe_free(m.probe);
  return status;
}

tw_status tw_bench_card_of_board(const tw_design *design, const tw_bench_instruments *instruments,
                                 tw_bench_inputs *inputs, tw_bench_card *out, tw_fault *fault)
{
  const tw_circuit_spec was = inputs->board;
  const tw_status status = tw_circuit_from_design(design, &inputs->board, fault);
  if (status != TW_OK) {
    inputs->board = was;
    return status;
  }
  /* what the disc brings to the node stays */
  inputs->board.disc_capacitance = was.disc_capacitance;
  inputs->board.charge_per_newton = was.charge_per_newton;
  inputs->board.charge_per_kelvin = was.charge_per_kelvin;
  return tw_bench_card_of(inputs, instruments, out, fault);
}

tw_status tw_bench_card_if(const tw_design *design, const tw_bench_instruments *instruments,
                           int threads, tw_card_worth worth, void *self, tw_bench_card *out,
                           bool *weighed, tw_fault *fault)
{
  making m = {.design = design,
              .with = instruments ? *instruments : tw_bench_instruments_default(),
              .threads = threads,
              .assessment = tw_alloc(1, sizeof *m.assessment),
              .inputs = tw_alloc(1, sizeof *m.inputs),
              .out = out};
  const tw_status status = m.inputs && m.assessment
                               ? make(&m, worth, self, weighed, fault)
                               : tw_fail(fault, TW_NO_MEMORY, NULL, NULL, "no memory for the card");
  tw_probe_free(m.probe);
  tw_free(m.assessment);
  tw_free(m.inputs);
  return status;
}

tw_status tw_bench_card_from(const tw_design *design, const tw_bench_instruments *instruments,
                             int threads, tw_bench_card *out, tw_fault *fault)
{
  bool weighed = false;
  return tw_bench_card_if(design, instruments, threads, NULL, NULL, out, &weighed, fault);
}
