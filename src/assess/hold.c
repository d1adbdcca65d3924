/* hold.c: spring, foam ring or measured table as one stage of a crash. Sideways the holder tips
 * about its edge: a travel x at the ball lifts its middle by x b/H, and the force is S b/H. */
#include "hold.h"

#include <math.h>

static double number(const tw_design *d, tw_field field)
{
  return tw_design_number_or(d, field, 0);
}

static double lever_of(const tw_design *d)
{
  return number(d, TW_F_holddown_tipping_radius) / number(d, TW_F_holddown_height);
}

static void spring(const tw_design *d, bool sideways, tw_hold *h)
{
  const double lever = sideways ? lever_of(d) : 1;
  h->home = number(d, TW_F_holddown_force);
  h->stage.law = TW_CRASH_SPRING;
  h->stage.gives_at = h->home * lever;
  h->stage.stiffness = number(d, TW_F_holddown_spring_rate) * lever * lever;
  h->stage.limit = number(d, TW_F_holddown_lift_limit) / lever;
}

/* a monotone table from home on: compression = precompression + lift */
static tw_status table(const tw_design *d, bool sideways, tw_hold *h, tw_fault *fault)
{
  const tw_table *loading = tw_design_table(d, TW_F_holddown_table),
                 *unloading = tw_design_table(d, TW_F_holddown_unloading);
  const double home = number(d, TW_F_holddown_precompression);
  const double lever = sideways ? lever_of(d) : 1;
  double x[64], y[64], xu[64], yu[64];
  size_t n = 0, nu = 0;
  for (; n < 64 && n < loading->rows; n++) {
    x[n] = loading->cells[n * loading->columns].number;
    y[n] = loading->cells[n * loading->columns + 1].number;
  }
  for (; unloading && nu < 64 && nu < unloading->rows; nu++) {
    xu[nu] = unloading->cells[nu * unloading->columns].number;
    yu[nu] = unloading->cells[nu * unloading->columns + 1].number;
  }
  if (n < 2 || !(home >= x[0] && home < x[n - 1])) {
    return tw_fail(fault, TW_BAD_INPUT, "holddown.precompression",
                   "the table must reach from home to the largest compression",
                   "the holder's home lies outside the measured table");
  }
  tw_status status = tw_force_table(x, y, n, home, &h->home, NULL, fault);
  for (size_t i = 0; i < TW_HOLD_ROWS && status == TW_OK; i++) {
    const double at = home + (x[n - 1] - home) * (double)i / (TW_HOLD_ROWS - 1);
    double force = 0, back = 0;
    status = tw_force_table(x, y, n, fmin(at, x[n - 1]), &force, NULL, fault);
    h->travel[i] = (at - home) / lever;
    h->force[i] = force * lever;
    h->back[i] = force * lever;
    if (status == TW_OK && nu >= 2 && at >= xu[0] && at <= xu[nu - 1] &&
        tw_force_table(xu, yu, nu, at, &back, NULL, fault) == TW_OK) {
      h->back[i] = fmin(back, force) * lever;
    }
  }
  h->stage.law = TW_CRASH_TABLE;
  h->stage.travel = h->travel;
  h->stage.force = h->force;
  h->stage.unloading = nu >= 2 ? h->back : NULL;
  h->stage.count = TW_HOLD_ROWS;
  h->stage.limit = number(d, TW_F_holddown_lift_limit) / lever;
  return status;
}

/* the law of the foam: hyperfoam where the row has its constants, cellular else; scaled so that
 * the stated stress at 25 % compression comes out */
typedef struct foam_law {
  const tw_hold *hold;
  bool hyper;
  double scale;
} foam_law;

static tw_status plain_stress(const foam_law *law, double strain, double *stress, tw_fault *fault)
{
  return law->hyper ? tw_foam_hyper_stress(&law->hold->hyper, strain, stress, fault)
                    : tw_foam_cellular_stress(&law->hold->cellular, strain, stress, fault);
}

static tw_status foam_stress(const void *self, double strain, double *stress, tw_fault *fault)
{
  const foam_law *law = self;
  const tw_status status = plain_stress(law, strain, stress, fault);
  *stress *= law->scale;
  return status;
}

static tw_status read_foam(const tw_design *d, tw_hold *h, foam_law *law, tw_fault *fault)
{
  *law = (foam_law){.hold = h, .hyper = tw_design_has(d, TW_F_holddown_foam_mu_1), .scale = 1};
  h->cellular.solid_young = number(d, TW_F_holddown_foam_modulus);
  h->cellular.relative_density = number(d, TW_F_holddown_foam_relative_density);
  h->hyper.mu[0] = number(d, TW_F_holddown_foam_mu_1);
  h->hyper.alpha[0] = number(d, TW_F_holddown_foam_alpha_1);
  h->hyper.poisson[0] = number(d, TW_F_holddown_foam_poisson_1);
  h->hyper.mu[1] = number(d, TW_F_holddown_foam_mu_2);
  h->hyper.alpha[1] = number(d, TW_F_holddown_foam_alpha_2);
  h->hyper.poisson[1] = number(d, TW_F_holddown_foam_poisson_2);
  h->hyper.terms = tw_design_has(d, TW_F_holddown_foam_mu_2) ? 2 : 1;
  if (!tw_design_has(d, TW_F_holddown_foam_stress)) {
    return TW_OK;
  }
  double plain = 0;
  const tw_status status = plain_stress(law, 0.25, &plain, fault);
  law->scale = status == TW_OK && plain > 0 ? number(d, TW_F_holddown_foam_stress) / plain : 1;
  return status;
}

static tw_status foam(const tw_design *d, bool sideways, tw_hold *h, tw_fault *fault)
{
  foam_law law;
  tw_status status = read_foam(d, h, &law, fault);
  if (status != TW_OK) {
    return status;
  }
  const tw_crash_foam_ring ring = {
      .stress = foam_stress,
      .foam = &law,
      .outer_radius = 0.5 * number(d, TW_F_holddown_foam_outer_diameter),
      .inner_radius = 0.5 * number(d, TW_F_holddown_foam_inner_diameter),
      .thickness = number(d, TW_F_holddown_foam_thickness),
      .precompression = number(d, TW_F_holddown_precompression),
      .tipping_radius = number(d, TW_F_holddown_tipping_radius),
      .height = number(d, TW_F_holddown_height)};
  const double end =
      tw_design_number_or(d, sideways ? TW_F_housing_travel_side : TW_F_housing_travel_axial, 5e-3);
  status = tw_crash_foam_axial(&ring, 0, &h->home, fault);
  if (status == TW_OK) {
    status = tw_crash_foam_table(&ring, sideways, 1.5 * end, TW_HOLD_ROWS, h->travel, h->force,
                                 &h->stage.count, fault);
  }
  h->stage.law = TW_CRASH_TABLE;
  h->stage.travel = h->travel;
  h->stage.force = h->force;
  h->stage.limit = number(d, TW_F_holddown_lift_limit) / (sideways ? lever_of(d) : 1);
  return status;
}

tw_status tw_hold_of(const tw_design *design, bool sideways, tw_hold *out, tw_fault *fault)
{
  *out = (tw_hold){.has = true};
  out->stage.name = "holder on its hold-down";
  out->stage.field = "holddown.kind";
  out->stage.stop_stiffness = tw_design_number(design, TW_F_housing_stop_stiffness);
  switch (tw_design_choice(design, TW_F_holddown_kind)) {
  case TW_HOLDDOWN_SPRING:
    spring(design, sideways, out);
    return TW_OK;
  case TW_HOLDDOWN_FOAM:
    return foam(design, sideways, out, fault);
  case TW_HOLDDOWN_TABLE:
    return table(design, sideways, out, fault);
  default:
    out->has = false;
    return TW_OK;
  }
}

double tw_hold_lifts(const tw_hold *hold)
{
  return hold->stage.law == TW_CRASH_SPRING ? hold->stage.gives_at : hold->stage.force[0];
}
