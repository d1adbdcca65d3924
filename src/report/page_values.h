/* page_values.h: what the documents of the page share. */
#ifndef TW_REPORT_PAGE_VALUES_H
#define TW_REPORT_PAGE_VALUES_H

#include "tripwright/page.h"

/* names of what the design asks for, in its order; none of a design that cannot be read */
json_t *tw_page_requirements(const tw_design *design);
tw_status tw_page_no_memory(tw_fault *fault);

#endif
