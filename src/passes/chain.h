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

/* What any of its passes needs, and what each of them does, and how each answers, as sets. */
unsigned muta_chain_needs(const muta_chain *chain);
unsigned muta_chain_common_effect(const muta_chain *chain);
unsigned muta_chain_common_answer(const muta_chain *chain);
/* What the other parts do in bars that are put in, as the last pass that lengthens says. */
muta_others muta_chain_others(const muta_chain *chain);

/* Which answer is wanted. */
typedef struct muta_take {
    uint64_t seed;
    size_t pick; /* of the last pass: 1 the best, 2 the next; 0: as the line says */
} muta_take;

/* As muta_chain_apply, for one take of several. */
muta_status muta_chain_answer(const muta_chain *chain, const muta_passage *in,
                              const muta_take *take, muta_passage **out,
                              muta_diags *diags) MUTA_CHECK;

#endif
