/* registry.c: the rows, and how they are found. */
#include "passes/pass.h"
#include <string.h>

static const muta_pass *const passes[] = {
#define PASS(name) &muta_pass_##name,
#include "passes/list.h"
#undef PASS
};

const char *const muta_kinds[] = {"real", "tonal", NULL};
static const char *const keys_choices[] = {"auto", "move", "stay", NULL};

static const muta_param where_param = {
    .name = "where",
    .type = MUTA_PARAM_ADDRESS,
    .help = "the address of what it works on, as Clarinet:5-8",
};
static const muta_param keys_param = {
    .name = "keys",
    .type = MUTA_PARAM_CHOICE,
    .otherwise = "auto",
    .help = "whether signatures and chord symbols go along; auto: with whole bars of all parts",
    .choices = keys_choices,
};

size_t muta_pass_count(void)
{
    return MUTA_LENGTH(passes);
}

const muta_pass *muta_pass_at(size_t nth)
{
    return passes[nth];
}

const muta_pass *muta_pass_find(const char *name)
{
    for (size_t i = 0; i < MUTA_LENGTH(passes); i++)
        if (strcmp(passes[i]->name, name) == 0)
            return passes[i];
    return NULL;
}

const muta_param *muta_pass_common_param(const muta_pass *pass, size_t nth)
{
    if (nth == 0)
        return &where_param;
    return nth == 1 && pass->moves_keys ? &keys_param : NULL;
}
