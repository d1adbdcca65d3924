/* program_path.c: from the plan to moves. */
#include "inner.h"
#include "program_inner.h"
#include "tripwright/qualify_fit.h"

#include <math.h>
#include <string.h>

/* ---- moves
 * ---------------------------------------------------------------------------------------- */

struct path {
  struct tw_checking *c;
  tw_program *out;
  size_t room;
  double at[3];
  bool somewhere, failed;
};

static void add(struct path *p, tw_move move)
{
  tw_program *g = p->out;
  if (g->count == p->room && !p->failed) {
    const size_t room = p->room ? 2 * p->room : 64;
    tw_move *larger = tw_resize(g->move, room, sizeof *larger);
    p->failed = !larger;
    g->move = larger ? larger : g->move;
    p->room = larger ? room : p->room;
  }
  if (p->failed) {
    return;
  }
  g->move[g->count++] = move;
  if (move.feed > 0.0) {
    double way = 0.0;
    for (int k = 0; k < 3; k++) {
      way = hypot(way, p->somewhere ? move.to[k] - p->at[k] : 0.0);
      p->at[k] = move.to[k];
    }
    p->somewhere = true;
    g->seconds += way / move.feed;
  }
  g->seconds += move.kind == TW_MOVE_WAIT ? move.value : 0.0;
}

static void go(struct path *p, tw_move_kind kind, double x, double y, double z, double feed)
{
  add(p, (tw_move){.kind = kind, .to = {x, y, z}, .feed = feed, .number = p->out->touches});
}

/* a point on the line of a touch, `before` short of the nominal contact (negative: past it) */
static void go_along(struct path *p, tw_move_kind kind, const struct tw_place_to_touch *t,
                     double before, double feed)
{
  const double way = t->run - before;
  go(p, kind, t->start[0] + way * t->along[0], t->start[1] + way * t->along[1],
     t->start[2] + way * t->along[2], feed);
}

/* over the start at clearance height, then down to it */
static void enter(struct path *p, const struct tw_place_to_touch *t)
{
  const tw_plan *plan = p->c->plan;
  const double high = fmax(plan->clearance, t->start[2]);
  if (p->somewhere && p->at[2] < high) {
    go(p, TW_MOVE_BACK, p->at[0], p->at[1], high, plan->feed_position);
  }
  if (!p->somewhere) {
    go(p, TW_MOVE_HEIGHT, t->start[0], t->start[1], high, plan->feed_position);
  }
  go(p, TW_MOVE_POSITION, t->start[0], t->start[1], high, plan->feed_position);
  if (t->start[2] < high) {
    const bool guarded = p->c->words->guarded[0] != '\0';
    go(p, guarded ? TW_MOVE_GUARDED : TW_MOVE_DOWN, t->start[0], t->start[1], t->start[2],
       guarded ? plan->feed_position : plan->feed_first);
  }
}

static void leave(struct path *p)
{
  const tw_plan *plan = p->c->plan;
  if (p->at[2] < plan->clearance) {
    go(p, TW_MOVE_BACK, p->at[0], p->at[1], plan->clearance, plan->feed_position);
  }
}

/* first touch, back off, counted touch, record, back to the start */
static void touch(struct path *p, const struct tw_place_to_touch *t, double feed)
{
  const tw_plan *plan = p->c->plan;
  p->out->touches++;
  if (p->c->words->check[0] && !plan->pulse) {
    add(p, (tw_move){.kind = TW_MOVE_CHECK, .number = p->out->touches});
  }
  go_along(p, TW_MOVE_TOUCH, t, -plan->placement, plan->feed_first);
  go_along(p, TW_MOVE_BACK, t, plan->back_off, plan->feed_first);
  go_along(p, TW_MOVE_COUNTED, t, -plan->placement, feed);
  add(p, (tw_move){.kind = TW_MOVE_RECORD, .feed = 0.0, .value = feed, .number = p->out->touches});
  go_along(p, TW_MOVE_BACK, t, t->run, plan->feed_first);
}

static void all_points(struct path *p)
{
  const tw_plan *plan = p->c->plan;
  for (size_t i = 0; i < p->c->points; i++) {
    const bool again = i > 0 && tw_program_in_ring(plan); /* the start is the same: stay there */
    if (!again) {
      enter(p, &p->c->point[i]);
    }
    touch(p, &p->c->point[i], plan->feed_touch);
    if (!tw_program_in_ring(plan)) {
      leave(p);
    }
  }
  leave(p);
}

static void one_point(struct path *p)
{
  const tw_plan *plan = p->c->plan;
  const size_t series = plan->test == TW_TEST_FEEDS ? plan->feeds : 1;
  enter(p, &p->c->point[0]);
  for (size_t s = 0; s < series; s++) {
    for (size_t i = 0; i < plan->touches; i++) {
      if (plan->test == TW_TEST_DRIFT && i > 0) {
        add(p, (tw_move){.kind = TW_MOVE_WAIT, .value = plan->interval});
      }
      touch(p, &p->c->point[0], plan->test == TW_TEST_FEEDS ? plan->feed[s] : plan->feed_touch);
    }
  }
  leave(p);
}

static void build(struct path *p)
{
  const tw_plan *plan = p->c->plan;
  if (plan->test == TW_TEST_OFFSET) {
    for (size_t i = 0; i < plan->turns; i++) {
      /* turned above the clearance: the first time before any move, later after leaving the ring */
      add(p,
          (tw_move){.kind = TW_MOVE_TURN, .value = 2.0 * TW_PI * (double)i / (double)plan->turns});
      all_points(p);
    }
  } else if (plan->test == TW_TEST_RING || plan->test == TW_TEST_SPHERE) {
    all_points(p);
  } else {
    one_point(p);
  }
}

tw_status tw_program_make(const tw_plan *plan, const tw_words *words, tw_messages *messages,
                          tw_program **out)
{
  *out = NULL;
  struct tw_checking *c = tw_alloc(1, sizeof *c);
  tw_program *program = tw_alloc(1, sizeof *program);
  if (!c || !program) {
    tw_free(c);
    tw_free(program);
    return TW_NO_MEMORY;
  }
  c->plan = plan;
  c->words = words;
  c->messages = messages;
  tw_status status = tw_program_check(c) ? TW_OK : TW_BAD_INPUT;
  if (status == TW_OK) {
    program->plan = *plan;
    struct path path = {.c = c, .out = program};
    build(&path);
    status = path.failed ? TW_NO_MEMORY : TW_OK;
  }
  tw_free(c);
  if (status != TW_OK) {
    tw_program_free(program);
    return status;
  }
  *out = program;
  return TW_OK;
}

void tw_program_free(tw_program *program)
{
  if (program) {
    tw_free(program->move);
    tw_free(program);
  }
}
