/* drawing.c: the pictures by name. */
#include "drawings.h"

#include <string.h>

static const struct {
  const char *name, *about;
  tw_draw_fn *draw;
} drawings[] = {
    {"section", "section through the axis with every part named", tw_drawing_section},
    {"foam-ring", "the foam ring of the hold-down, to cut out at 1:1", tw_drawing_foam_ring},
    {"gasket", "a gasket between housing and shank flange, with the screw holes, at 1:1",
     tw_drawing_gasket},
    {"drilling-template", "centre marks for opening, screws and seats, at 1:1",
     tw_drawing_drilling},
};
enum { COUNT = sizeof drawings / sizeof drawings[0] };

tw_drawing_options tw_drawing_defaults(void)
{
  return (tw_drawing_options){.width = 180.0,
                              .height = 250.0,
                              .standalone = true,
                              .ghosts = true,
                              .dimensions = true,
                              .system = TW_METRIC};
}

bool tw_shade_read(const char *word, tw_shade *shade)
{
  static const char *const words[] = {"none", "charge", "stress"};
  for (int i = 0; i < 3; i++) {
    if (strcmp(word, words[i]) == 0) {
      *shade = (tw_shade)i;
      return true;
    }
  }
  return false;
}

size_t tw_drawing_count(void)
{
  return COUNT;
}

const char *tw_drawing_name(size_t index)
{
  return index < COUNT ? drawings[index].name : NULL;
}

const char *tw_drawing_about(size_t index)
{
  return index < COUNT ? drawings[index].about : NULL;
}

tw_status tw_drawing_make(const char *name, const tw_design *design,
                          const tw_drawing_options *options, char **svg, tw_fault *fault)
{
  const char *names[COUNT];
  tw_drawing_options o = options ? *options : tw_drawing_defaults();
  const tw_drawing_options usual = tw_drawing_defaults();
  o.width = o.width > 0.0 ? o.width : usual.width;
  o.height = o.height > 0.0 ? o.height : usual.height;
  for (size_t i = 0; i < COUNT; i++) {
    if (strcmp(drawings[i].name, name) == 0) {
      return drawings[i].draw(design, &o, svg, fault);
    }
    names[i] = drawings[i].name;
  }
  const char *near = tw_nearest_name(name, names, COUNT);
  return tw_fail(fault, TW_BAD_INPUT, "",
                 near ? near : "section, foam-ring, gasket, drilling-template",
                 "there is no picture named \"%s\"", name);
}
