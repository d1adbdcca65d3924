/* program_draw.c: the path of a program as a drawing: seen from above and from the front. */
#include "inner.h"
#include "tripwright/qualify_program.h"
#include "tripwright/text.h"

#include <math.h>

#define VIEW 360.0 /* pixels a view */
#define EDGE 24.0

struct view {
  int across, up; /* axes */
  double low[2], scale, left;
};

static bool moves(const tw_move *m)
{
  return m->feed > 0.0 && m->kind != TW_MOVE_RECORD && m->kind != TW_MOVE_HEIGHT;
}

static void frame(const tw_program *g, struct view *v)
{
  double high[2] = {-(double)INFINITY, -(double)INFINITY};
  v->low[0] = v->low[1] = (double)INFINITY;
  for (size_t i = 0; i < g->count; i++) {
    const double at[2] = {g->move[i].to[v->across], g->move[i].to[v->up]};
    for (int k = 0; k < 2 && moves(&g->move[i]); k++) {
      v->low[k] = fmin(v->low[k], at[k]);
      high[k] = fmax(high[k], at[k]);
    }
  }
  const double span = fmax(fmax(high[0] - v->low[0], high[1] - v->low[1]), 1e-6);
  v->scale = (VIEW - 2.0 * EDGE) / span;
  /* the shorter side in the middle */
  for (int k = 0; k < 2; k++) {
    v->low[k] -= 0.5 * (span - (high[k] - v->low[k]));
  }
}

static double px(const struct view *v, const double *to)
{
  return v->left + EDGE + v->scale * (to[v->across] - v->low[0]);
}

static double py(const struct view *v, const double *to)
{
  return VIEW - EDGE - v->scale * (to[v->up] - v->low[1]);
}

/* told apart by dashes and width, not by colour alone */
static const char *style_of(tw_move_kind kind)
{
  switch (kind) {
  case TW_MOVE_TOUCH:
    return "stroke-width=\"2\" stroke=\"currentColor\" stroke-dasharray=\"6 2\"";
  case TW_MOVE_COUNTED:
    return "stroke-width=\"3\" stroke=\"currentColor\"";
  case TW_MOVE_GUARDED:
    return "stroke-width=\"1\" stroke=\"currentColor\" stroke-dasharray=\"2 3\"";
  case TW_MOVE_DOWN:
    return "stroke-width=\"1\" stroke=\"currentColor\" stroke-dasharray=\"8 3 2 3\"";
  default:
    return "stroke-width=\"0.6\" stroke=\"currentColor\" opacity=\"0.6\"";
  }
}

static void draw(tw_text *t, const tw_program *g, const struct view *v, const char *title)
{
  const tw_move *before = NULL;
  tw_text_add(t, "<g fill=\"none\">\n");
  for (size_t i = 0; i < g->count; i++) {
    const tw_move *m = &g->move[i];
    if (!moves(m)) {
      continue;
    }
    if (before) {
      tw_text_add(t, "<line x1=\"%.1f\" y1=\"%.1f\" x2=\"%.1f\" y2=\"%.1f\" %s/>\n",
                  px(v, before->to), py(v, before->to), px(v, m->to), py(v, m->to),
                  style_of(m->kind));
    }
    before = m;
  }
  tw_text_add(t,
              "</g>\n<text x=\"%.1f\" y=\"14\" font-size=\"11\" fill=\"currentColor\">%s</text>\n",
              v->left + EDGE, title);
}

static void legend(tw_text *t)
{
  static const struct {
    tw_move_kind kind;
    const char *words;
  } rows[] = {{TW_MOVE_COUNTED, "counted touch"},
              {TW_MOVE_TOUCH, "first touch"},
              {TW_MOVE_GUARDED, "guarded"},
              {TW_MOVE_DOWN, "down, secured by the user"},
              {TW_MOVE_POSITION, "clear of everything, or back"}};
  for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
    const double x = EDGE + 140.0 * (double)i, y = VIEW + 12.0;
    tw_text_add(t, "<line x1=\"%.0f\" y1=\"%.0f\" x2=\"%.0f\" y2=\"%.0f\" %s/>\n", x, y, x + 24.0,
                y, style_of(rows[i].kind));
    tw_text_add(t, "<text x=\"%.0f\" y=\"%.0f\" font-size=\"10\" fill=\"currentColor\">%s</text>\n",
                x + 28.0, y + 4.0, rows[i].words);
  }
}

tw_status tw_program_drawing(const tw_program *program, char **svg, tw_fault *fault)
{
  struct view above = {.across = 0, .up = 1}, front = {.across = 0, .up = 2, .left = VIEW};
  tw_text t = {0};
  frame(program, &above);
  frame(program, &front);
  tw_text_add(&t,
              "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 %.0f %.0f\" role=\"img\" "
              "font-family=\"sans-serif\">\n<title>path of the %s test, %u touches</title>\n",
              2.0 * VIEW, VIEW + 28.0, tw_program_test_name(program->plan.test), program->touches);
  draw(&t, program, &above, "from above (X to the right, Y up)");
  draw(&t, program, &front, "from the front (X to the right, Z up)");
  legend(&t);
  tw_text_add(&t, "</svg>\n");
  *svg = tw_text_take(&t);
  return *svg ? TW_OK : tw_no_memory(fault);
}
