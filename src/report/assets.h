/* assets.h: the table that the generator (web/embed/embed.c) writes. */
#ifndef TW_REPORT_ASSETS_H
#define TW_REPORT_ASSETS_H

#include "tripwright/report.h"

extern const tw_asset tw_assets[];
extern const size_t tw_assets_count;

#endif
