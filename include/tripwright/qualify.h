/* qualify.h: adjust, qualify, put to use: everything of this room.
 *
 * This room needs no model of a probe and serves one that was never modelled. Each part has its own
 * header with its units and owners; all functions are thread-safe on different objects.
 */
#ifndef TRIPWRIGHT_QUALIFY_H
#define TRIPWRIGHT_QUALIFY_H

#include "tripwright/qualify_budget.h"
#include "tripwright/qualify_fit.h"
#include "tripwright/qualify_gauge.h"
#include "tripwright/qualify_program.h"
#include "tripwright/qualify_record.h"
#include "tripwright/qualify_stats.h"
#include "tripwright/qualify_table.h"
#include "tripwright/qualify_tip.h"
#include "tripwright/qualify_tram.h"

#endif
