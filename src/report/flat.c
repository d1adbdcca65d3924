/* flat.c: flat parts to print at 1:1 and cut out or drill through: foam ring, gasket, template. */
#include "drawings.h"
#include "plan.h"
#include "sheet.h"
#include "tripwright/constants.h"

#include <math.h>
#include <stdio.h>

static const double mm = 1e-3;

/* a flat part lies in the middle of the sheet, X to the right, Y up */
static tw_status open_flat(tw_sheet *sheet, double radius, tw_fault *fault)
{
  const double room = 0.5 * fmin(sheet->width - 16.0, sheet->height - 75.0);
  const double scale = sheet->options->scale > 0.0 ? sheet->options->scale : 1.0;
  if (1e3 * radius * scale > room) {
    return tw_fail(fault, TW_BAD_INPUT, "", "give a larger sheet or a smaller scale",
                   "at %s the part is larger than the sheet; at most %s fits",
                   tw_scale_text(scale).text,
                   tw_scale_text(tw_scale_below(1e-3 * room / radius)).text);
  }
  sheet->view = (tw_view){.x0 = 0.5 * sheet->width, .y0 = room + 10.0, .scale = scale};
  return TW_OK;
}

static void cross(tw_sheet *sheet, double x, double y, double half)
{
  const tw_point level[2] = {{x - half, y}, {x + half, y}};
  const tw_point upright[2] = {{x, y - half}, {x, y + half}};
  tw_svg_poly(&sheet->svg, &sheet->view, "centre", level, 2, false);
  tw_svg_poly(&sheet->svg, &sheet->view, "centre", upright, 2, false);
}

static void hole(tw_sheet *sheet, double x, double y, double radius)
{
  tw_svg_circle(&sheet->svg, &sheet->view, "outline", x, y, radius);
  cross(sheet, x, y, radius + 1.5 * mm);
}

/* a circle of `count` holes; `first` in rad from X towards Y */
static void hole_circle(tw_sheet *sheet, int count, double first, double circle, double radius)
{
  for (int i = 0; i < count; i++) {
    const double a = first + TW_TWO_PI * i / count;
    hole(sheet, circle * cos(a), circle * sin(a), radius);
  }
}

static void round_dimension(tw_sheet *sheet, double radius, double y)
{
  const tw_view *v = &sheet->view;
  const double x1 = tw_view_x(v, -radius), x2 = tw_view_x(v, radius), yc = tw_view_y(v, 0.0);
  tw_svg_line(&sheet->svg, "thin", x1, yc, x1, y + 1.5);
  tw_svg_line(&sheet->svg, "thin", x2, yc, x2, y + 1.5);
  tw_svg_dimension_across(&sheet->svg, x1, x2, y, tw_sheet_round(sheet, 2.0 * radius).text);
}

static tw_status close_flat(tw_sheet *sheet, const char *title, const char *note, char **svg,
                            tw_fault *fault)
{
  const tw_shown scale = tw_scale_text(sheet->view.scale);
  const double title_w = fmin(100.0, sheet->width - 2.0);
  if (note) {
    tw_svg_text(&sheet->svg, "key", 6.0, sheet->height - TW_TITLE_HEIGHT - 14.0, "start", note);
  }
  tw_sheet_check_line(sheet, 6.0, sheet->height - TW_TITLE_HEIGHT - 6.0);
  tw_sheet_title_block(sheet, sheet->width - title_w - 1.0, sheet->height - TW_TITLE_HEIGHT - 2.0,
                       title_w, scale.text, title);
  return tw_sheet_close(sheet, title, note ? note : title, svg, fault);
}

static tw_sheet new_sheet(const tw_design *design, const tw_drawing_options *options)
{
  return (tw_sheet){
      .options = options, .design = design, .width = options->width, .height = options->height};
}

tw_status tw_drawing_foam_ring(const tw_design *design, const tw_drawing_options *options,
                               char **svg, tw_fault *fault)
{
  if (tw_design_choice(design, TW_F_holddown_kind) != TW_HOLDDOWN_FOAM ||
      !tw_design_has(design, TW_F_holddown_foam_outer_diameter)) {
    return tw_fail(fault, TW_BAD_INPUT, "holddown.kind", "holddown.kind: foam",
                   "this design has no foam ring");
  }
  const double outer = 0.5 * tw_design_number(design, TW_F_holddown_foam_outer_diameter);
  const double inner = 0.5 * tw_design_number_or(design, TW_F_holddown_foam_inner_diameter, 0.0);
  tw_sheet sheet = new_sheet(design, options);
  const tw_status status = open_flat(&sheet, outer, fault);
  if (status != TW_OK) {
    return status;
  }
  tw_svg_circle(&sheet.svg, &sheet.view, "outline", 0.0, 0.0, outer);
  if (inner > 0.0) {
    tw_svg_circle(&sheet.svg, &sheet.view, "outline", 0.0, 0.0, inner);
    round_dimension(&sheet, inner, tw_view_y(&sheet.view, -outer) + 8.0);
  }
  cross(&sheet, 0.0, 0.0, outer + 2.0 * mm);
  round_dimension(&sheet, outer, tw_view_y(&sheet.view, -outer) + 16.0);
  char note[TW_SHEET_TEXT] = "";
  if (tw_design_has(design, TW_F_holddown_foam_thickness)) {
    snprintf(note, sizeof note, "thickness when free %s",
             tw_sheet_length(&sheet, tw_design_number(design, TW_F_holddown_foam_thickness)).text);
  }
  return close_flat(&sheet, "foam ring of", note, svg, fault);
}

/* between the housing's upper end and the shank's flange */
tw_status tw_drawing_gasket(const tw_design *design, const tw_drawing_options *options, char **svg,
                            tw_fault *fault)
{
  tw_layout plan;
  tw_status status = tw_layout_make(design, &plan, fault);
  tw_sheet sheet = new_sheet(design, options);
  if (status == TW_OK) {
    status = open_flat(&sheet, plan.house_radius, fault);
  }
  if (status != TW_OK) {
    return status;
  }
  tw_svg_circle(&sheet.svg, &sheet.view, "outline", 0.0, 0.0, plan.house_radius);
  tw_svg_circle(&sheet.svg, &sheet.view, "outline", 0.0, 0.0, plan.house_inner);
  if (plan.screws == TW_SCREWS_AXIAL) {
    const double first = tw_design_number_or(design, TW_F_housing_screw_azimuth, 0.0);
    hole_circle(&sheet, plan.screw_count, first, plan.screw_radius, 1.6 * mm);
  }
  cross(&sheet, 0.0, 0.0, plan.house_radius + 2.0 * mm);
  const double y = tw_view_y(&sheet.view, -plan.house_radius);
  round_dimension(&sheet, plan.house_inner, y + 8.0);
  round_dimension(&sheet, plan.house_radius, y + 16.0);
  return close_flat(&sheet, "gasket of", "between the housing's upper end and the flange", svg,
                    fault);
}

/* the marks on the housing's face, seen from above: opening, screws, seats or stops */
tw_status tw_drawing_drilling(const tw_design *design, const tw_drawing_options *options,
                              char **svg, tw_fault *fault)
{
  tw_layout plan;
  tw_status status = tw_layout_make(design, &plan, fault);
  tw_sheet sheet = new_sheet(design, options);
  if (status == TW_OK) {
    status = open_flat(&sheet, plan.house_radius + 3.0 * mm, fault);
  }
  if (status != TW_OK) {
    return status;
  }
  const double first = tw_design_number_or(design, TW_F_housing_screw_azimuth, 0.0);
  tw_svg_circle(&sheet.svg, &sheet.view, "thin", 0.0, 0.0, plan.house_radius);
  hole(&sheet, 0.0, 0.0, plan.opening);
  if (plan.screws == TW_SCREWS_AXIAL) {
    hole_circle(&sheet, plan.screw_count, first, plan.screw_radius, 1.25 * mm);
  } else if (plan.screws == TW_SCREWS_RADIAL) {
    for (int i = 0; i < plan.screw_count; i++) {
      const double a = first + TW_TWO_PI * i / plan.screw_count;
      const tw_point ray[2] = {
          {(plan.house_radius - 4.0 * mm) * cos(a), (plan.house_radius - 4.0 * mm) * sin(a)},
          {(plan.house_radius + 2.5 * mm) * cos(a), (plan.house_radius + 2.5 * mm) * sin(a)}};
      tw_svg_poly(&sheet.svg, &sheet.view, "outline", ray, 2, false);
    }
  }
  if (plan.seat == TW_SEAT_TRIPOD) {
    hole_circle(&sheet, 3, tw_design_number_or(design, TW_F_seat_azimuth, 0.0), plan.pitch_radius,
                0.75 * mm);
  }
  const tw_point ahead[2] = {{0.0, 0.0}, {plan.house_radius + 3.0 * mm, 0.0}};
  tw_svg_poly(&sheet.svg, &sheet.view, "centre", ahead, 2, false);
  tw_svg_text(&sheet.svg, "name", tw_view_x(&sheet.view, plan.house_radius + 3.0 * mm) - 3.0,
              tw_view_y(&sheet.view, 0.0) - 1.5, "start", "X");
  const double y = tw_view_y(&sheet.view, -plan.house_radius);
  round_dimension(&sheet, plan.opening, y + 8.0);
  round_dimension(&sheet, plan.house_radius, y + 16.0);
  return close_flat(&sheet, "drilling template of",
                    "seen from above, looking down the spindle; tap drill 2.5 mm for M3", svg,
                    fault);
}
