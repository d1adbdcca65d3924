/* board.c: node, stage and comparator of a touch from a solved board. */
#include "tripwright/circuit_in_time.h"
#include "tripwright/touch.h"

static void take_stage(const tw_circuit_spec *b, const tw_circuit *c, const tw_circuit_in_time *t,
                       tw_touch_stage *s)
{
  if (b->kind == TW_BOARD_GAIN) {
    s->kind = TW_STAGE_GAIN;
    s->gain = c->gain;
    s->bandwidth = c->front_pole > 0 ? c->front_pole * c->gain : 0;
    s->offset = t->stage_offset;
  } else if (b->kind == TW_BOARD_CHARGE) {
    s->kind = TW_STAGE_CHARGE;
    s->feedback_capacitance = t->feedback_capacitance;
    s->feedback_resistance = t->feedback_resistance;
    s->bandwidth = b->front.gain_bandwidth;
  }
  s->slew = c->front_slew;
  s->low = c->front_low;
  s->high = c->front_high;
}

static void take_comparator(const tw_circuit *c, const tw_circuit_in_time *t,
                            tw_touch_comparator *o)
{
  const bool regenerates = c->comparator_bandwidth > 0;
  o->rest_high = t->rest_high;
  o->reference = t->reference;
  o->input_weight = t->input_weight;
  o->output_weight = t->output_weight;
  o->low = c->comparator_low;
  o->high = c->comparator_high;
  o->kind = regenerates ? TW_COMPARATOR_REGENERATIVE : TW_COMPARATOR_DELAY;
  o->bandwidth = c->comparator_bandwidth;
  o->slew = c->comparator_slew;
  o->delay = c->response_time;
}

/* ohm, of a clamp that no resistor stands before: slope of a silicon diode at 25 uA, 25 mV over the
 * current, about what a touch drives through it (diode law) */
#define DIODE_RESISTANCE 1e3

void tw_touch_take_board(const tw_circuit_spec *board, const tw_circuit *solved, bool falls,
                         tw_touch_model *model)
{
  const tw_circuit_in_time t = tw_circuit_in_time_of(board, solved, falls);
  model->node =
      (tw_touch_node){.sense = TW_SENSE_CHARGE,
                      .capacitance = t.capacitance,
                      .resistance = t.resistance,
                      .bias_voltage = t.emf,
                      .bias_current = t.current,
                      .output_pull = t.pull,
                      .series_resistance = board->series_resistance,
                      .clamped = board->clamped,
                      .clamp_resistance = board->series_resistance > 0 ? 0 : DIODE_RESISTANCE,
                      .clamp_low = board->clamp_low,
                      .clamp_high = board->clamp_high};
  take_stage(board, solved, &t, &model->stage);
  take_comparator(solved, &t, &model->comparator);
}
