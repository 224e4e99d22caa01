/* args.c: from the words of a key to a typed value in range. */
#include "base/text.h"
#include "passes/pass.h"
#include <string.h>

size_t muta_choice_find(const char *const *choices, const char *value, size_t *count)
{
    size_t found = 0;

    for (*count = 0; choices[*count]; ++*count)
        ;
    while (found < *count && strcmp(choices[found], value) != 0)
        found++;
    return found;
}

static const char *choice_at(const void *choices, size_t i)
{
    return ((const char *const *)choices)[i];
}

const char *muta_param_form(const muta_param *param)
{
    switch (param->type) {
    case MUTA_PARAM_INTERVAL:
        return "an interval, as m3, P5 or -M2";
    case MUTA_PARAM_KEY:
        return "a key, as G, e or G:dorian";
    case MUTA_PARAM_CHOICE:
        return "one of its words";
    case MUTA_PARAM_ADDRESS:
        return "an address, as Clarinet:5-8";
    }
    return "";
}

static muta_status bad_value(const muta_param *param, const char *value, muta_diags *diags)
{
    const char *nearest = NULL;
    size_t count;

    if (param->type == MUTA_PARAM_CHOICE) {
        (void)muta_choice_find(param->choices, value, &count);
        nearest = muta_text_nearest(value, param->choices, count, choice_at);
        nearest = nearest ? nearest : param->choices[0];
    }
    if (nearest)
        muta_diag_add(diags, MUTA_ERROR, MUTA_NOWHERE, "%s=%.60s is not known; did you mean %s=%s?",
                      param->name, value, param->name, nearest);
    else
        muta_diag_add(diags, MUTA_ERROR, MUTA_NOWHERE, "%s=%.60s is not %s", param->name, value,
                      muta_param_form(param));
    return MUTA_E_USAGE;
}

muta_status muta_args_set(const muta_param *param, const char *value, void *args, muta_diags *diags)
{
    void *const field = (char *)args + param->offset;
    size_t count;
    bool good = false;

    switch (param->type) {
    case MUTA_PARAM_INTERVAL:
        good = muta_interval_parse(value, field) == MUTA_OK;
        break;
    case MUTA_PARAM_KEY:
        good = muta_key_parse(value, &((muta_given_key *)field)->key) == MUTA_OK;
        ((muta_given_key *)field)->is_given = good;
        break;
    case MUTA_PARAM_CHOICE:
        *(int *)field = (int)muta_choice_find(param->choices, value, &count);
        good = (size_t) * (int *)field < count;
        break;
    case MUTA_PARAM_ADDRESS: /* checked when there is a score to look it up in */
        *(const char **)field = value;
        good = true;
        break;
    }
    return good ? MUTA_OK : bad_value(param, value, diags);
}

muta_status muta_args_default(const muta_pass *pass, void *args)
{
    for (size_t i = 0; i < pass->param_count; i++)
        if (pass->params[i].otherwise)
            MUTA_TRY(muta_args_set(&pass->params[i], pass->params[i].otherwise, args, NULL));
    return MUTA_OK;
}
