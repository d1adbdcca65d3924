/* documents_batch.h: the documents of a batch: cost, order. Rules as in documents.h: SI, a unit
 * beside each number, money bare with the currency named once; the caller owns what it gets. */
#ifndef TRIPWRIGHT_DOCUMENTS_BATCH_H
#define TRIPWRIGHT_DOCUMENTS_BATCH_H

#include "tripwright/batch_allot_design.h"
#include "tripwright/batch_cost.h"
#include "tripwright/documents.h"

/* from which builds the shares of failing requirements come: of so many, a stated share, nothing */
typedef struct tw_batch_basis {
  size_t builds, good; /* builds > 0: counted */
  bool stated;         /* --share */
} tw_batch_basis;

json_t *tw_document_cost(const tw_design *design, const tw_batch *batch,
                         const tw_batch_basis *basis);
json_t *tw_document_order(const tw_design *design, const tw_batch *batch,
                          const tw_batch_basis *basis);

/* tolerances at least cost, with the grades of every dimension */
json_t *tw_document_allot(const tw_study *study, const tw_allot_ask *ask,
                          const tw_allot_answer *answer);

#endif
