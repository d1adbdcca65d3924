/* sketches.c: what the words of a group mean, drawn in characters; not to scale. */
#include "sketches.h"

#include <string.h>

static const struct {
  const char *group, *sketch;
} sketches[] = {
    {"disc", "      |<-------- metal_diameter --------->|\n"
             "      |    |<-- ceramic_diameter -->|     |\n"
             "      |    |  |<- electrode ->|     |     |\n"
             "           +==================+            electrode (silver)\n"
             "           |     ceramic      |            ceramic_thickness\n"
             "      +----+------ bond ------+-----+      bond_thickness\n"
             "      |            metal            |      metal_thickness\n"
             "      +-----------------------------+\n"},
    {"support", "                  | carrier\n"
                "                  v\n"
                "      =========================      disc\n"
                "      |__|                 |__|      ledge: ledge_radius to its edge\n"
                "      |  |<- void_radius ->|  |\n"
                "      |  |   void_depth    |  |\n"
                "      |__|_________________|__|      backing\n"},
    {"seat", "  pivot                 tripod                plate             bonded\n"
             "    ____ flat_radius      |   | preload         ~ spring          ====  disc\n"
             "   (    ) ball_radius   __v___v__             ____v____           |__|  bond_\n"
             "   |\\__/| socket        o   o   o  pitch_     |__   __|  lip:      |   radius\n"
             "   |  | | socket_angle  |___|___|  radius       | | | tipping_     |\n"
             "      |                     |  vee_angle        | |   radius       |\n"
             "      | reach               | reach               | reach          | reach\n"
             "      O tip                 O                     O                O\n"},
    {"preload", "     screw or cap\n"
                "     -----+-----\n"
                "          #        spring: spring_rate, force; or a stack with interference\n"
                "     =====v=====   carrier or disc\n"
                "     ///////////   seat\n"},
    {"stylus", "      |__|       carrier\n"
               "      |  |  ^    thread, neck\n"
               "       ||   |\n"
               "       ||   | stem_length     stem_diameter across\n"
               "       ||   |\n"
               "       ||   v\n"
               "       ()        ball_diameter; reach: ball's middle to the seat's point\n"},
    {"circuit", "            supply             supply\n"
                "              |                  |\n"
                "          bias_upper      reference_upper\n"
                "              |                  |\n"
                "    bias -----+          +-------+------- reference\n"
                "              |          |       |\n"
                "          bias_lower     |  reference_lower      feedback_resistance\n"
                "              |          |       |              .----/\\/\\----.\n"
                "              0          |       0              |            |\n"
                "  disc --+-- series --+--|----------------------+-|>---------+--- output\n"
                "         |            |  |_______________________ |\n"
                "  cable, input C    bias_resistance to bias\n"},
    {"output", "                        supply of the controller\n"
               "                           |\n"
               "                        pull_up\n"
               "   comparator --[stage]----+------- cable ------- controller's input\n"
               "                           |                      machine.input_pull_up\n"
               "                       indicator\n"},
    {"holddown", "      ____________      holder\n"
                 "     |####    ####|     foam ring: outer, inner diameter, thickness\n"
                 "     |____________|     precompression; tipping_radius, height above it\n"
                 "     //////  //////     housing\n"},
    {"housing", "      |<- shank_diameter ->|\n"
                "      |   shank_length     |\n"
                "   ___|____________________|___\n"
                "  |      outer_diameter        |  length, wall\n"
                "  |___________    _____________|\n"
                "              |__|  opening_diameter\n"
                "               ||  stylus: travel_side, travel_axial\n"},
    {"machine", "   feed\n"
                "   -----.            first contact      trip seen        stands\n"
                "         \\___________|__________________|________________|\n"
                "   approach_feed      pretravel          latency, sampling_interval,\n"
                "                                         acceleration, jerk: overtravel\n"},
};

const char *tw_sketch_of(const char *group)
{
  for (size_t i = 0; i < sizeof sketches / sizeof sketches[0]; i++) {
    if (strcmp(sketches[i].group, group) == 0) {
      return sketches[i].sketch;
    }
  }
  return NULL;
}
