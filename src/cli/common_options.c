/* common_options.c: the options that many verbs take. */
#include "verb.h"

const tw_option tw_common_json[] = {
    {"json", NULL, "print one JSON document in SI instead of text", false},
    {NULL, NULL, NULL, false},
};

const tw_option tw_common_csv[] = {
    {"csv", NULL, "print the table as CSV", false},
    {NULL, NULL, NULL, false},
};

const tw_option tw_common_design[] = {
    {"set", "PATH=TEXT", "override a value of the file, as if it stood there", true},
    {"shop", "FILE",
     "machine, processes and costs of the workshop (default: shop.yaml beside the "
     "design, if there is one)",
     false},
    {"parts", "FOLDER", "look up library rows here", false},
    {"units", "metric|inch", "units of the text output", false},
    {NULL, NULL, NULL, false},
};
