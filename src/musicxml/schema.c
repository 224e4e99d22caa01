/* schema.c: validation by libxml2, from files beside the schema and from nowhere else. */
#include "mutanza/schema.h"
#include <libxml/parser.h>
#include <libxml/parserInternals.h>
#include <libxml/xmlschemas.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

struct muta_schema {
    xmlSchemaPtr compiled;
};

/* libxml2's loader takes no data of ours, so the folder stands here while a schema is compiled. */
static const char *beside;

static xmlParserInputPtr load_beside(const char *url, const char *id, xmlParserCtxtPtr context)
{
    char path[4096];
    const char *const slash = url ? strrchr(url, '/') : NULL;
    const char *const name = slash ? slash + 1 : url;
    const char *const folder_end = strrchr(beside, '/');
    const int folder = folder_end ? (int)(folder_end - beside) + 1 : 0;

    (void)id;
    if (!name || snprintf(path, sizeof path, "%.*s%s", folder, beside, name) >= (int)sizeof path)
        return NULL;
    return access(path, R_OK) == 0 ? xmlNewInputFromFile(context, path) : NULL;
}

struct complaint {
    muta_diags *diags;
    bool said;
};

static void on_schema_error(void *data, xmlErrorPtr error)
{
    struct complaint *const complaint = data;

    if (complaint->said || error->level < XML_ERR_ERROR)
        return;
    complaint->said = true;
    muta_diag_add(complaint->diags, MUTA_ERROR, MUTA_NOWHERE, "%s is not an XML Schema", beside);
}

static void on_error(void *data, xmlErrorPtr error)
{
    struct complaint *const complaint = data;
    muta_place place = MUTA_NOWHERE;
    const size_t length = error->message ? strcspn(error->message, "\n") : 0;

    if (complaint->said || error->level < XML_ERR_ERROR)
        return;
    complaint->said = true;
    place.line = error->line;
    muta_diag_add(complaint->diags, MUTA_ERROR, place, "not valid: %.*s",
                  (int)(length < 400 ? length : 400), error->message ? error->message : "");
}

muta_status muta_schema_read(const char *path, muta_schema **schema, muta_diags *diags)
{
    struct complaint complaint = {.diags = diags};
    const xmlExternalEntityLoader loader = xmlGetExternalEntityLoader();

    if (access(path, R_OK) != 0) {
        muta_diag_add(diags, MUTA_ERROR, MUTA_NOWHERE, "the schema %s cannot be read", path);
        return MUTA_E_NO_INPUT;
    }
    muta_schema *const made = calloc(1, sizeof *made);
    if (!made)
        return MUTA_E_MEMORY;
    beside = path;
    xmlSetExternalEntityLoader(load_beside);
    const xmlSchemaParserCtxtPtr parser = xmlSchemaNewParserCtxt(path);
    if (parser) {
        xmlSchemaSetParserStructuredErrors(parser, on_schema_error, &complaint);
        made->compiled = xmlSchemaParse(parser);
        xmlSchemaFreeParserCtxt(parser);
    }
    xmlSetExternalEntityLoader(loader);
    beside = NULL;
    if (!made->compiled) {
        free(made);
        return MUTA_E_DATA;
    }
    *schema = made;
    return MUTA_OK;
}

void muta_schema_free(muta_schema *schema)
{
    if (schema)
        xmlSchemaFree(schema->compiled);
    free(schema);
}

static void ignore_error(void *data, xmlErrorPtr error)
{
    (void)data;
    (void)error;
}

muta_status muta_schema_check(const muta_schema *schema, const char *at, size_t length,
                              muta_diags *diags)
{
    struct complaint complaint = {.diags = diags};

    if (length > INT32_MAX)
        return MUTA_E_RANGE;
    xmlSetStructuredErrorFunc(NULL, ignore_error);
    const xmlDocPtr document = xmlReadMemory(at, (int)length, NULL, NULL, XML_PARSE_NONET);
    xmlSetStructuredErrorFunc(NULL, NULL);
    const xmlSchemaValidCtxtPtr validator =
        document ? xmlSchemaNewValidCtxt(schema->compiled) : NULL;
    muta_status status = document ? MUTA_E_MEMORY : MUTA_E_DATA;
    if (validator) {
        xmlSchemaSetValidStructuredErrors(validator, on_error, &complaint);
        status = xmlSchemaValidateDoc(validator, document) == 0 ? MUTA_OK : MUTA_E_DATA;
    }
    xmlSchemaFreeValidCtxt(validator);
    xmlFreeDoc(document);
    return status;
}
