/* chain.h: a line of passes, as it was parsed. */
#ifndef PASSES_CHAIN_H
#define PASSES_CHAIN_H

#include "base/vec.h"
#include "passes/pass.h"

/* One pass of the line with its keys. */
typedef struct muta_link {
    const muta_pass *pass;
    void *args;
    muta_common common;
    bool *given; /* by param */
} muta_link;

struct muta_chain {
    muta_arena arena;
    MUTA_VEC(muta_link) links;
    char *text;
};

#endif
