/* listing.c: the registry's rows as JSON, for programs that call this one. */
#include "base/json.h"
#include "passes/pass.h"
#include "theory/table.h"
#include <stdio.h>
#include <string.h>

const char *muta_param_words(const muta_param *param, char *text, size_t room)
{
    text[0] = '\0';
    if (param->table)
        return muta_table_names(param->table, text, room);
    for (const char *const *choice = param->choices; choice && *choice; choice++) {
        const size_t used = strlen(text);
        (void)snprintf(text + used, room - used, "%s%s", used ? ", " : "", *choice);
    }
    return text;
}

static const char *type_name(muta_param_type type)
{
    static const char *const names[] = {
        [MUTA_PARAM_INTERVAL] = "interval", [MUTA_PARAM_KEY] = "key",
        [MUTA_PARAM_CHOICE] = "choice",     [MUTA_PARAM_ADDRESS] = "address",
        [MUTA_PARAM_COUNT] = "count",       [MUTA_PARAM_RATIO] = "ratio",
        [MUTA_PARAM_RANGE] = "range",       [MUTA_PARAM_AXIS] = "axis",
        [MUTA_PARAM_TEXT] = "text",         [MUTA_PARAM_SHARE] = "share",
        [MUTA_PARAM_DURATION] = "duration", [MUTA_PARAM_NAME] = "name",
    };

    return names[type];
}

static void print_names(muta_json *json, const char *table)
{
    char name[MUTA_TABLE_NAME];
    muta_row row = {.count = 0};

    muta_json_open(json, "choices", '[');
    while (muta_table_next_name(&table, &row)) {
        (void)snprintf(name, sizeof name, "%.*s", (int)row.cells[0].length, row.cells[0].at);
        muta_json_text(json, NULL, name);
    }
    muta_json_close(json, ']');
}

static void print_param(muta_json *json, const muta_param *param)
{
    muta_json_open(json, NULL, '{');
    muta_json_text(json, "name", param->name);
    muta_json_text(json, "type", type_name(param->type));
    if (param->otherwise)
        muta_json_text(json, "default", param->otherwise);
    muta_json_text(json, "help", param->help);
    if (param->table)
        print_names(json, param->table);
    if (param->choices) {
        muta_json_open(json, "choices", '[');
        for (const char *const *choice = param->choices; *choice; choice++)
            muta_json_text(json, NULL, *choice);
        muta_json_close(json, ']');
    }
    muta_json_close(json, '}');
}

static void print_pass(muta_json *json, const muta_pass *pass)
{
    const muta_param *common;

    muta_json_open(json, NULL, '{');
    muta_json_text(json, "name", pass->name);
    muta_json_text(json, "group", pass->group);
    muta_json_text(json, "summary", pass->summary);
    muta_json_text(json, "keeps", pass->keeps);
    muta_json_open(json, "params", '[');
    for (size_t i = 0; i < pass->param_count; i++)
        print_param(json, &pass->params[i]);
    for (size_t i = 0; (common = muta_pass_common_param(pass, i)); i++)
        print_param(json, common);
    muta_json_close(json, ']');
    muta_json_close(json, '}');
}

muta_status muta_pass_print_json(const muta_pass *pass, char **text)
{
    muta_json json = {0};

    muta_json_open(&json, NULL, '[');
    for (size_t i = 0; i < muta_pass_count(); i++)
        if (!pass || muta_pass_at(i) == pass)
            print_pass(&json, muta_pass_at(i));
    muta_json_close(&json, ']');
    MUTA_TRY(muta_json_end(&json));
    *text = json.text.at;
    return MUTA_OK;
}
