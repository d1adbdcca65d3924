/* tip_parts.h: what a tip table takes from files of its own. */
#ifndef TW_CLI_TIP_PARTS_H
#define TW_CLI_TIP_PARTS_H

#include "readings_in.h"

/* --delay-from; nothing happens without it */
tw_exit tw_tip_add_delay(tw_cli *cli, tw_tip *tip);
/* --offset-from, or --offset-touches; nothing happens without it */
tw_exit tw_tip_add_offset(tw_cli *cli, tw_tip *tip, bool touches);
/* the offset with its sign in words, and what centres from four touches hide in it */
void tw_tip_say_offset(const tw_cli *cli, const tw_tip *tip);
/* how right one edge is, before (--ball) and after the table; false (reported): --ball is wrong */
bool tw_tip_edge_of(tw_cli *cli, const tw_tip *tip, tw_found_edge *edge);
void tw_tip_say_edge(const tw_cli *cli, const tw_tip *tip, const tw_found_edge *edge);

#endif
