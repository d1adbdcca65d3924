/* stem.c: a stepped cantilever: stiffness by the unit-load integral, masses, stress
 * (docs/models/stylus.md 1 and 2). */
#include "inside.h"
#include "tripwright/constants.h"

#include <math.h>
#include <string.h>

static bool positive(double x)
{
  return x > 0.0 && isfinite(x);
}

static tw_status bad(tw_fault *fault, const char *field, const char *what)
{
  return tw_fail(fault, TW_BAD_INPUT, field, "give a number above zero", "%s", what);
}

static tw_status check_section(const tw_stylus_section *s, tw_fault *fault)
{
  if (!positive(s->length)) {
    return bad(fault, "stylus.stem_length", "a section of the stem has no length");
  }
  if (!positive(s->diameter)) {
    return bad(fault, "stylus.stem_diameter", "a section of the stem has no diameter");
  }
  if (!(s->bore >= 0.0 && s->bore < s->diameter)) {
    return tw_fail(fault, TW_BAD_INPUT, "stylus.stem_diameter", "make the bore smaller",
                   "the bore of a section, %.4g mm, is not smaller than its diameter, %.4g mm",
                   s->bore * 1e3, s->diameter * 1e3);
  }
  if (!positive(s->young)) {
    return bad(fault, "stylus.stem_modulus", "the stem has no modulus");
  }
  if (!positive(s->density)) {
    return bad(fault, "stylus.stem_density", "the stem has no density");
  }
  if (!(s->poisson >= 0.0 && s->poisson <= 0.5)) {
    return tw_fail(fault, TW_BAD_INPUT, "stylus.stem_poisson", "give a number from 0 to 0.5",
                   "the stem's Poisson's ratio is not usable");
  }
  return TW_OK;
}

static tw_status check(const tw_stylus_spec *s, tw_fault *fault)
{
  if (s->sections < 1 || s->sections > TW_STYLUS_SECTIONS) {
    return tw_fail(fault, TW_BAD_INPUT, "stylus.sections", "give 1 to 8 sections",
                   "the stem has %zu sections", s->sections);
  }
  for (size_t i = 0; i < s->sections; i++) {
    const tw_status status = check_section(&s->section[i], fault);
    if (status != TW_OK) {
      return status;
    }
  }
  if (!positive(s->ball_diameter)) {
    return bad(fault, "stylus.ball_diameter", "the ball has no diameter");
  }
  if (!positive(s->ball_density)) {
    return bad(fault, "stylus.ball_density", "the ball has no density");
  }
  if (!(s->thread_root >= 0.0 && isfinite(s->thread_root))) {
    return bad(fault, "stylus.thread", "the thread's root diameter is not a number");
  }
  if (s->reach != 0.0 && !(isfinite(s->reach) && s->reach > 0.0)) {
    return bad(fault, "stylus.thread_height", "the way to the thread is not above zero");
  }
  return TW_OK;
}

/* shear of a round section: L/(kappa G A), kappa = 6 (1 + nu)/(7 + 6 nu) (Cowper 1966, from
 * memory), G = E/(2 (1 + nu)); a tenth of a per cent of the bending of a slender stem */
static double shear(const tw_stylus_section *p)
{
  if (!(p->poisson > 0.0)) {
    return 0.0;
  }
  const double kappa = 6.0 * (1.0 + p->poisson) / (7.0 + 6.0 * p->poisson);
  return 2.0 * (1.0 + p->poisson) * p->length / (kappa * p->young * tw_stylus_area(p));
}

/* unit loads at the ball centre: 1/k = int x^2/(E I) dx + shear, slope = int x/(E I) dx,
 * 1/k_axial = int dx/(E A) */
static void stiffness(const tw_stylus_spec *s, tw_stylus *out)
{
  double side = 0.0, slope = 0.0, axial = 0.0, x = 0.0;
  for (size_t i = 0; i < s->sections; i++) {
    const tw_stylus_section *p = &s->section[i];
    const double ei = p->young * tw_stylus_second_moment(p), end = x + p->length;
    side += (end * end * end - x * x * x) / (3.0 * ei) + shear(p);
    slope += (end * end - x * x) / (2.0 * ei);
    axial += p->length / (p->young * tw_stylus_area(p));
    x = end;
  }
  out->side_stiffness = 1.0 / side;
  out->axial_stiffness = 1.0 / axial;
  out->side_slope = slope;
}

static void masses(const tw_stylus_spec *s, tw_stylus *out)
{
  double x = 0.0, moment = 0.0;
  for (size_t i = 0; i < s->sections; i++) {
    const tw_stylus_section *p = &s->section[i];
    const double m = p->density * tw_stylus_area(p) * p->length;
    out->stem_mass += m;
    moment += m * (x + 0.5 * p->length);
    x += p->length;
  }
  out->ball_mass = s->ball_density * TW_PI / 6.0 * pow(s->ball_diameter, 3.0);
  out->mass_centre = moment / (out->stem_mass + out->ball_mass);
}

/* bending stress of a unit side force at lever x on a round section */
static double bending(double x, double diameter, double bore)
{
  return 32.0 * x * diameter / (TW_PI * (pow(diameter, 4.0) - pow(bore, 4.0)));
}

static void stress(const tw_stylus_spec *s, tw_stylus *out)
{
  double x = 0.0;
  for (size_t i = 0; i < s->sections; i++) {
    const tw_stylus_section *p = &s->section[i];
    x += p->length; /* the root side of a section bears the larger moment */
    const double side = bending(x, p->diameter, p->bore);
    if (side > out->neck_stress_side) {
      out->neck_stress_side = side;
      out->neck_section = i;
    }
    out->neck_stress_axial = fmax(out->neck_stress_axial, 1.0 / tw_stylus_area(p));
  }
  if (s->thread_root > 0.0) {
    const double lever = s->reach > 0.0 ? s->reach : x;
    out->thread_stress_side = bending(lever, s->thread_root, 0.0);
    out->thread_stress_axial = 4.0 / (TW_PI * s->thread_root * s->thread_root);
  }
}

tw_status tw_stylus_solve(const tw_stylus_spec *spec, tw_stylus *out, tw_fault *fault)
{
  memset(out, 0, sizeof *out);
  tw_status status = check(spec, fault);
  if (status != TW_OK) {
    return status;
  }
  const tw_hertz_pair pair = {{0.5 * spec->ball_diameter, INFINITY},
                              {spec->ball_young, spec->work_young},
                              {spec->ball_poisson, spec->work_poisson}};
  tw_hertz contact;
  status = tw_hertz_solve(&pair, 0.0, &contact, fault);
  if (status != TW_OK) {
    return status;
  }
  stiffness(spec, out);
  masses(spec, out);
  stress(spec, out);
  out->hertz = contact.constant;
  status = tw_stylus_first_mode(spec, out->ball_mass, &out->first_mode, fault);
  if (status != TW_OK) {
    memset(out, 0, sizeof *out);
    return status;
  }
  const double omega = 2.0 * TW_PI * out->first_mode;
  out->tip_mass = out->side_stiffness / (omega * omega);
  return TW_OK;
}

double tw_stylus_along(const tw_stylus *stylus, double elevation)
{
  const double c = cos(elevation), s = sin(elevation);
  return 1.0 / (c * c / stylus->side_stiffness + s * s / stylus->axial_stiffness);
}
