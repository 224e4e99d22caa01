/* registry.c: the rows, and how they are found. */
#include "passes/pass.h"
#include <assert.h>
#include <string.h>

static const muta_pass *const passes[] = {
#define PASS(name) &muta_pass_##name,
#include "passes/list.h"
#undef PASS
};

const char *const muta_kinds[] = {"real", "tonal", NULL};
const char *const muta_tempos[] = {"keep", "scale", NULL};
const char *const muta_yes_or_no[] = {"no", "yes", NULL};
const char *const muta_ofs[] = {"all", "pitch", "rhythm", NULL};
static const char *const keys_choices[] = {"auto", "move", "stay", NULL};

static const muta_param where_param = {
    .name = "where",
    .type = MUTA_PARAM_ADDRESS,
    .offset = offsetof(muta_common, where),
    .help = "the address of what it works on, as Clarinet:5-8",
};
static const muta_param keys_param = {
    .name = "keys",
    .type = MUTA_PARAM_CHOICE,
    .offset = offsetof(muta_common, keys),
    .otherwise = "auto",
    .help = "whether signatures and chord symbols go along; auto: with whole bars of all parts",
    .choices = keys_choices,
};

static const char *const others_choices[] = {"rest", "repeat", "stretch", NULL};
static const muta_param others_param = {
    .name = "others",
    .type = MUTA_PARAM_CHOICE,
    .offset = offsetof(muta_common, others),
    .otherwise = "rest",
    .help = "what the other parts do in the bars that are put in",
    .choices = others_choices,
};
static const char *const accompaniment_choices[] = {"auto", "follow", "leave", NULL};
static const muta_param accompaniment_param = {
    .name = "accompaniment",
    .type = MUTA_PARAM_CHOICE,
    .offset = offsetof(muta_common, accompaniment),
    .otherwise = "auto",
    .help = "whether the others go along, in their own figures on chords that fit; auto: with the "
            "tune, if nothing else is addressed",
    .choices = accompaniment_choices,
};
static const muta_param keep_param = {
    .name = "keep",
    .type = MUTA_PARAM_TEXT,
    .offset = offsetof(muta_common, keep),
    .help = "tones that stay as they are: first, last, cadence, accented, longest or an address",
};
static const muta_param pick_param = {
    .name = "pick",
    .type = MUTA_PARAM_COUNT,
    .offset = offsetof(muta_common, pick),
    .otherwise = "1",
    .least = 1,
    .most = 16,
    .help = "which answer: the best, the second, the third",
};

size_t muta_pass_count(void)
{
    return MUTA_LENGTH(passes);
}

const muta_pass *muta_pass_at(size_t nth)
{
    assert(nth < MUTA_LENGTH(passes));
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
    const muta_param *const common[] = {
        &where_param,
        (pass->effect & MUTA_MOVES_KEYS) ? &keys_param : NULL,
        (pass->effect & MUTA_CHANGES_LENGTH) ? &others_param : NULL,
        (pass->effect & MUTA_BENDS_TUNE) ? &accompaniment_param : NULL,
        (pass->effect & MUTA_MOVES_TIME) || (pass->effect & MUTA_CHANGES_METRE) ? NULL
                                                                                : &keep_param,
        (pass->answer & MUTA_HAS_NEXT_BEST) ? &pick_param : NULL,
    };

    for (size_t i = 0; i < MUTA_LENGTH(common); i++)
        if (common[i] && nth-- == 0)
            return common[i];
    return NULL;
}
