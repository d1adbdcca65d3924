/* report_certificate.h: the certificate of one unit, as a canonical document and on paper.
 *
 * The paper shows the SHA-256 of the document; both have the same numbers. Words that claim more
 * than was done ("calibrated" and its kin) stand there only beside a document that the user named.
 */
#ifndef TRIPWRIGHT_REPORT_CERTIFICATE_H
#define TRIPWRIGHT_REPORT_CERTIFICATE_H

#include "tripwright/batch_certificate.h"

#include <jansson.h>

typedef struct tw_certificate {
  const tw_design *design;
  tw_units *units;
  tw_system system;
  const char *unit, *date, *issued_by, *digest; /* digest: SHA-256 of the design file */
  const char *temperature;                      /* as the user states it, or NULL */
  const char *replaces; /* SHA-256 of the certificate that this one corrects */
  const tw_certify_ask *ask;
  size_t builds; /* of the batch; 0: none */
  const tw_certified_result *result;
  size_t count;
  const tw_certified_all *all;
} tw_certificate;

json_t *tw_document_certificate(const tw_certificate *certificate);
/* HTML for paper (A4 and Letter alike); `seal` is the SHA-256 of the canonical document */
tw_status tw_certificate_html(const tw_certificate *certificate, const char *seal, char **html,
                              tw_fault *fault);

#endif
