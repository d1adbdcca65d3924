/* allot_dims.c: which dimensions of a design have grades, and the laws that a set of grades makes.
 */
#include "allot_inside.h"

#include <math.h>
#include <string.h>

/* standard deviation over half the zone: normal limits are two deviations off, the others follow
 * from their densities */
static double share_of(tw_law law)
{
  return law == TW_LAW_UNIFORM ? 1 / sqrt(3) : law == TW_LAW_TRIANGULAR ? 1 / sqrt(6) : 0.5;
}

static double half_zone(const tw_varied *law)
{
  return (law->minus + law->plus) / 2;
}

/* grades as the file lists them, loosest first; a radius takes half of what a size does */
static tw_status take_grades(const allot *a, const tw_grades *grades, tw_field field, double size,
                             double share, tw_allot_dim *dim)
{
  if (grades->count > TW_ALLOT_GRADES) {
    return tw_fail(a->fault, TW_BAD_INPUT, tw_field_of(field)->path, "three or four are enough",
                   "more than %d grades", TW_ALLOT_GRADES);
  }
  for (size_t g = 0; g < grades->count; g++) {
    const tw_grade *grade = &grades->grade[g];
    const double hold =
        share * (grade->it ? tw_iso_zone(fabs(size) / share, grade->it) / 2 : grade->hold);
    if (!(hold > 0)) {
      return tw_fail(a->fault, TW_BAD_INPUT, tw_field_of(field)->path,
                     "ISO grades belong to sizes up to 500 mm; write a length",
                     "grade IT%d has no zone for this size", grade->it);
    }
    size_t at = dim->grades++;
    for (; at > 0 && dim->hold[at - 1] < hold; at--) {
      dim->hold[at] = dim->hold[at - 1];
      dim->cost[at] = dim->cost[at - 1];
    }
    dim->hold[at] = hold;
    dim->cost[at] = grade->cost;
  }
  return TW_OK;
}

static bool wanted(const allot *a, tw_field field)
{
  bool found = a->ask->onlys == 0;
  for (size_t i = 0; i < a->ask->onlys; i++) {
    found = found || a->ask->only[i] == field;
  }
  return found;
}

static tw_status take_input(allot *a, size_t input)
{
  const tw_study_input *in = &a->study->input[input];
  const tw_design *design = a->study->design;
  tw_allot_problem *p = &a->answer->problem;
  const bool spread = in->law.law == TW_LAW_NORMAL || in->law.law == TW_LAW_UNIFORM ||
                      in->law.law == TW_LAW_TRIANGULAR;
  if (in->cell || in->choice || !spread || !(half_zone(&in->law) > 0) || !wanted(a, in->field)) {
    return TW_OK;
  }
  const tw_dimension dimension = tw_field_dimension(in->field);
  const tw_grades *grades = tw_design_grades(design, in->field);
  const tw_process *process = NULL;
  double share = 1;
  if (!grades && dimension.way != TW_WAY_NONE) {
    process = tw_design_process_of(design, tw_field_of(in->field)->part);
    grades = process && process->making.grades.count ? &process->making.grades : NULL;
    share = dimension.share;
  }
  if (!grades) {
    return TW_OK;
  }
  if (p->dims == TW_ALLOT_DIMS) {
    return tw_fail(a->fault, TW_BAD_INPUT, "grades", "name those that matter with --only",
                   "more than %d dimensions have grades", TW_ALLOT_DIMS);
  }
  const double middle = in->law.centre + (in->law.plus - in->law.minus) / 2;
  a->answer->field[p->dims] = (tw_allot_field){.field = in->field,
                                               .input = input,
                                               .now = half_zone(&in->law),
                                               .centre = middle - in->offset,
                                               .moved = in->law.plus != in->law.minus,
                                               .process = process ? process->name : NULL};
  tw_allot_dim *dim = &p->dim[p->dims++];
  dim->name = in->path;
  dim->share = share_of(in->law.law);
  return take_grades(a, grades, in->field, in->now, share, dim);
}

tw_status tw_allot_dims(allot *a)
{
  tw_status status = TW_OK;
  for (size_t k = 0; k < a->study->inputs && status == TW_OK; k++) {
    status = take_input(a, k);
  }
  if (status == TW_OK && a->answer->problem.dims == 0) {
    return tw_fail(a->fault, TW_BAD_INPUT, "grades",
                   "write processes.NAME.grades or grades: {PATH: [{hold: .., cost: ..}]} into the "
                   "shop file, and a tolerance to the dimension",
                   "no dimension with a tolerance has grades to choose from");
  }
  return status;
}

void tw_allot_laws(allot *a, const tw_allot_set *set)
{
  for (size_t i = 0; i < a->answer->problem.dims; i++) {
    const size_t input = a->answer->field[i].input;
    tw_varied *law = &a->study->input[input].law;
    *law = a->law[input];
    if (set) {
      law->centre += (law->plus - law->minus) / 2; /* a zone to one side is held about its middle */
      law->minus = law->plus = a->answer->problem.dim[i].hold[set->grade[i]];
    }
  }
}
