/* from_design.c: the stem as the design file has it. */
#include "tripwright/design.h"
#include "tripwright/stylus.h"

#include <math.h>
#include <string.h>

/* ISO 261 coarse threads: root diameter d - 1.226869 P (ISO 68-1 profile, rounded root) */
static double thread_root(int thread)
{
  static const struct {
    int thread;
    double diameter, pitch; /* mm */
  } row[] = {{TW_THREAD_M1_4, 1.4, 0.3},  {TW_THREAD_M1_6, 1.6, 0.35}, {TW_THREAD_M2, 2.0, 0.4},
             {TW_THREAD_M2_5, 2.5, 0.45}, {TW_THREAD_M3, 3.0, 0.5},    {TW_THREAD_M4, 4.0, 0.7},
             {TW_THREAD_M5, 5.0, 0.8}};
  for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
    if (row[i].thread == thread) {
      return 1e-3 * (row[i].diameter - 1.226869 * row[i].pitch);
    }
  }
  return 0.0;
}

typedef struct stem_material {
  double young, density, poisson;
} stem_material;

static void add_section(tw_stylus_spec *s, double length, double diameter, const stem_material *of)
{
  s->section[s->sections++] = (tw_stylus_section){.length = length,
                                                  .diameter = diameter,
                                                  .young = of->young,
                                                  .density = of->density,
                                                  .poisson = of->poisson};
}

static tw_status sections_of_table(const tw_table *t, const stem_material *of, tw_stylus_spec *out,
                                   tw_fault *fault)
{
  if (t->rows < 1 || t->rows > TW_STYLUS_SECTIONS || t->columns < 2) {
    return tw_fail(fault, TW_BAD_INPUT, "stylus.sections", "give 1 to 8 rows of diameter, length",
                   "the stem has %zu sections", t->rows);
  }
  for (size_t i = 0; i < t->rows; i++) {
    const tw_cell *cell = t->cells + i * t->columns;
    add_section(out, cell[1].number, cell[0].number, of);
  }
  return TW_OK;
}

tw_status tw_stylus_spec_from_design(const struct tw_design *design, tw_stylus_spec *out,
                                     tw_fault *fault)
{
  memset(out, 0, sizeof *out);
  const stem_material of = {tw_design_number(design, TW_F_stylus_stem_modulus),
                            tw_design_number(design, TW_F_stylus_stem_density),
                            tw_design_number_or(design, TW_F_stylus_stem_poisson, 0.0)};
  const double reach = tw_design_number(design, TW_F_stylus_reach);
  out->ball_diameter = tw_design_number(design, TW_F_stylus_ball_diameter);
  out->ball_density = tw_design_number(design, TW_F_stylus_ball_density);
  out->ball_young = tw_design_number(design, TW_F_stylus_ball_modulus);
  out->ball_poisson = tw_design_number(design, TW_F_stylus_ball_poisson);
  out->work_young = tw_design_number(design, TW_F_machine_work_modulus);
  out->work_poisson = tw_design_number(design, TW_F_machine_work_poisson);
  out->thread_root = thread_root(tw_design_choice(design, TW_F_stylus_thread));
  out->reach = tw_design_number_or(design, TW_F_stylus_thread_height, 0.0);
  if (tw_design_has(design, TW_F_stylus_sections)) {
    return sections_of_table(tw_design_table(design, TW_F_stylus_sections), &of, out, fault);
  }
  const double diameter = tw_design_number(design, TW_F_stylus_stem_diameter);
  const double neck = tw_design_number_or(design, TW_F_stylus_neck_length, 0.0);
  const double covered = tw_design_number_or(design, TW_F_stylus_covered_length, 0.0);
  const double length = tw_design_number_or(design, TW_F_stylus_stem_length, reach - covered);
  if (!(length > 0.0)) {
    return tw_fail(fault, TW_BAD_INPUT, "stylus.covered_length", "cover less than the reach",
                   "nothing is left of the stem: reach %.4g mm, covered %.4g mm", reach * 1e3,
                   covered * 1e3);
  }
  if (!(neck < length)) {
    return tw_fail(fault, TW_BAD_INPUT, "stylus.neck_length", "make the neck shorter",
                   "the neck, %.4g mm, is as long as the whole stem, %.4g mm", neck * 1e3,
                   length * 1e3);
  }
  if (neck > 0.0) {
    add_section(out, neck, tw_design_number_or(design, TW_F_stylus_neck_diameter, diameter), &of);
  }
  add_section(out, length - neck, diameter, &of);
  return TW_OK;
}
