/* links.c: lengths of the axial stack as inputs. */
#include "choices.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* stack.chain: name, length */
#define COLUMNS 2

/* a private copy of the chain for each worker */
static bool make_room(tw_study *study, const tw_table *chain)
{
  for (int i = 0; i < study->level.threads; i++) {
    tw_links *links = &study->worker[i].links;
    if (!links->cells) {
      links->cells = tw_alloc(chain->rows * chain->columns, sizeof *links->cells);
      links->table = (tw_table){chain->rows, chain->columns, links->cells};
    }
    if (!links->cells) {
      return false;
    }
  }
  return true;
}

tw_status tw_study_add_link(tw_study *study, size_t row, size_t *input, tw_fault *fault)
{
  const tw_table *chain = tw_design_table(study->design, TW_F_stack_chain);
  if (!chain || chain->columns != COLUMNS || row >= chain->rows) {
    return tw_fail(fault, TW_BAD_INPUT, "stack.chain", NULL, "there is no row %zu", row + 1);
  }
  if (!make_room(study, chain) || study->inputs == TW_FIELD_COUNT) {
    return tw_fail(fault, TW_NO_MEMORY, "stack.chain", NULL, "no room for its lengths");
  }
  const tw_cell *cell = &chain->cells[row * COLUMNS];
  tw_study_input *in = &study->input[study->inputs];
  *in = (tw_study_input){.field = TW_F_stack_chain, .si = "m", .cell = true, .row = row};
  snprintf(in->label, sizeof in->label, "stack.chain: %.60s", cell[0].text);
  in->path = in->label;
  in->now = cell[1].number;
  in->least = in->now - fabs(in->now);
  in->most = in->now + fabs(in->now);
  in->law = (tw_varied){.name = in->label, .law = TW_LAW_FIXED, .centre = in->now};
  study->now[study->inputs] = in->now;
  *input = study->inputs++;
  return TW_OK;
}

void tw_study_put_links(const tw_study *study, const double *x, tw_links *links, tw_design *own)
{
  bool put = false;
  for (size_t k = 0; k < study->inputs; k++) {
    const tw_study_input *in = &study->input[k];
    if (!in->cell || x[k] == study->now[k]) {
      continue;
    }
    if (!put) {
      const tw_table *chain = tw_design_table(study->design, TW_F_stack_chain);
      memcpy(links->cells, chain->cells, chain->rows * chain->columns * sizeof *links->cells);
      put = true;
    }
    links->cells[in->row * COLUMNS + 1].number = x[k];
  }
  if (put) {
    tw_design_put_table(own, TW_F_stack_chain, &links->table);
  }
}
