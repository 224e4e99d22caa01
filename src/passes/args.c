/* args.c: from the words of a key to a typed value in range. */
#include "base/text.h"
#include "passes/pass.h"
#include "theory/table.h"
#include <inttypes.h>
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
    case MUTA_PARAM_COUNT:
        return "a whole number";
    case MUTA_PARAM_RATIO:
        return "a ratio from 1/64 to 64, as 2 or 3/2";
    case MUTA_PARAM_SHARE:
        return "a share from 0 to 1, as 0.4";
    case MUTA_PARAM_RANGE:
        return "a number or two, as 3 or 1-4";
    case MUTA_PARAM_AXIS:
        return "one of its words, or a pitch as A4";
    case MUTA_PARAM_TEXT:
        return "a text";
    case MUTA_PARAM_NAME:
        return "one of its names";
    case MUTA_PARAM_DURATION:
        return "a duration, as eighth or, in quarter notes, 1/2; from a 1024th to 64 quarters";
    }
    return "";
}

static muta_status bad_value(const muta_param *param, const char *value, muta_diags *diags)
{
    const char *nearest = NULL;
    char name[MUTA_TABLE_NAME];
    char names[400];
    size_t count;

    if (param->type == MUTA_PARAM_COUNT) {
        muta_diag_add(diags, MUTA_ERROR, MUTA_NOWHERE,
                      "%s=%.60s is not a number of %s from %" PRId64 " to %" PRId64, param->name,
                      value, param->unit ? param->unit : "them", param->least, param->most);
        return MUTA_E_USAGE;
    }
    if (param->type == MUTA_PARAM_CHOICE || param->type == MUTA_PARAM_AXIS) {
        (void)muta_choice_find(param->choices, value, &count);
        nearest = muta_text_nearest(value, param->choices, count, choice_at);
        if (param->type == MUTA_PARAM_CHOICE && !nearest)
            nearest = param->choices[0];
    }
    if (param->type == MUTA_PARAM_NAME)
        nearest = muta_table_nearest(param->table, value, name);
    if (param->type == MUTA_PARAM_NAME && !nearest)
        muta_diag_add(diags, MUTA_ERROR, MUTA_NOWHERE, "%s=%.60s is not known; there are %s",
                      param->name, value, muta_table_names(param->table, names, sizeof names));
    else if (nearest)
        muta_diag_add(diags, MUTA_ERROR, MUTA_NOWHERE, "%s=%.60s is not known; did you mean %s=%s?",
                      param->name, value, param->name, nearest);
    else
        muta_diag_add(diags, MUTA_ERROR, MUTA_NOWHERE, "%s=%.60s is not %s", param->name, value,
                      muta_param_form(param));
    return MUTA_E_USAGE;
}

/* A whole number with its sign. */
static bool read_count(const char *text, int64_t *count)
{
    const bool minus = *text == '-';
    const char *const end = muta_text_count(text + minus, count);

    if (!end || *end)
        return false;
    *count = minus ? -*count : *count;
    return true;
}

/* `3` or `1-4`. */
static bool read_range(const char *text, muta_given_range *range)
{
    const char *end = muta_text_count(text, &range->first);

    range->last = range->first;
    if (end && *end == '-')
        end = muta_text_count(end + 1, &range->last);
    range->is_given = end && !*end && range->first >= 1 && range->last >= range->first;
    return range->is_given;
}

/* Within what can be written and played. */
static bool lies_between(muta_fraction value, muta_fraction least, muta_fraction most)
{
    enum {
        FINEST = 4096 /* no ratio or value of music has larger numbers */
    };

    return muta_fraction_compare(value, least) >= 0 && muta_fraction_compare(value, most) <= 0 &&
           value.top <= FINEST && value.bottom <= FINEST;
}

/* A number of quarter notes, or the name of a value. */
static bool read_duration(const char *text, muta_fraction *duration)
{
    static const char *const names[] = {"64th",    "32nd", "16th",  "eighth",
                                        "quarter", "half", "whole", "breve"};

    for (int i = 0; i < (int)MUTA_LENGTH(names); i++)
        if (strcmp(names[i], text) == 0) {
            *duration = muta_fraction_of(1 << i, 16);
            return true;
        }
    return muta_fraction_parse(text, duration) == MUTA_OK &&
           lies_between(*duration, muta_fraction_of(1, 256), muta_fraction_of(64, 1));
}

static bool read_axis(const muta_param *param, const char *text, muta_axis *axis)
{
    size_t count;

    axis->choice = (int)muta_choice_find(param->choices, text, &count);
    axis->is_pitch = (size_t)axis->choice == count;
    return !axis->is_pitch || muta_pitch_parse(text, &axis->pitch) == MUTA_OK;
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
    case MUTA_PARAM_COUNT:
        good = read_count(value, field) && *(int64_t *)field >= param->least &&
               *(int64_t *)field <= param->most;
        break;
    case MUTA_PARAM_RATIO:
        good =
            muta_fraction_parse(value, field) == MUTA_OK &&
            lies_between(*(muta_fraction *)field, muta_fraction_of(1, 64), muta_fraction_of(64, 1));
        break;
    case MUTA_PARAM_SHARE:
        good = muta_fraction_parse(value, field) == MUTA_OK && ((muta_fraction *)field)->top >= 0 &&
               muta_fraction_compare(*(muta_fraction *)field, muta_fraction_of(1, 1)) <= 0;
        break;
    case MUTA_PARAM_RANGE:
        good = read_range(value, field);
        break;
    case MUTA_PARAM_AXIS:
        good = read_axis(param, value, field);
        break;
    case MUTA_PARAM_NAME:
        *(const char **)field = value;
        good = muta_table_has(param->table, value);
        break;
    case MUTA_PARAM_DURATION:
        good = read_duration(value, field);
        break;
    case MUTA_PARAM_TEXT:
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
