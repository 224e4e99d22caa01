/* schema.c: validation by libxml2, from files beside the schema and from nowhere else. */
#include "mutanza/schema.h"
#include "musicxml/xml_start.h"
#include <libxml/parser.h>
#include <libxml/xmlschemas.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#define XSD "http://www.w3.org/2001/XMLSchema"
/* Nothing from the network, and not a word on stderr: what is wrong is told by us. */
#define READING (XML_PARSE_NONET | XML_PARSE_NOERROR | XML_PARSE_NOWARNING)

struct muta_schema {
    xmlDocPtr document; /* which what is compiled from it points into */
    xmlSchemaPtr compiled;
};

struct complaint {
    muta_diags *diags;
    const char *path; /* of a schema that is compiled */
    bool said;
};

static void on_schema_error(void *data, xmlErrorPtr error)
{
    struct complaint *const complaint = data;

    if (complaint->said || error->level < XML_ERR_ERROR)
        return;
    complaint->said = true;
    muta_diag_add(complaint->diags, MUTA_ERROR, MUTA_NOWHERE, "%s is not an XML Schema",
                  complaint->path);
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

/* ---- what a schema imports ---- */

/* The file of a location's last part beside `path`, if there is one to be read. */
static bool is_beside(const char *path, const char *location, char *at, size_t room)
{
    const char *const last = strrchr(location, '/');
    const char *const folder_end = strrchr(path, '/');
    const int folder = folder_end ? (int)(folder_end - path) + 1 : 0;
    const int length = snprintf(at, room, "%.*s%s", folder, path, last ? last + 1 : location);

    return length > 0 && (size_t)length < room && access(at, R_OK) == 0;
}

/* The import or inclusion at a node of a schema, or the next one behind it. */
static xmlNodePtr import_from(xmlNodePtr node)
{
    for (; node; node = node->next)
        if (node->type == XML_ELEMENT_NODE && node->ns &&
            xmlStrEqual(node->ns->href, BAD_CAST XSD) &&
            xmlHasProp(node, BAD_CAST "schemaLocation"))
            return node;
    return NULL;
}

static xmlNodePtr first_import(xmlDocPtr document)
{
    const xmlNodePtr root = document ? xmlDocGetRootElement(document) : NULL;

    return root ? import_from(root->children) : NULL;
}

/* Whether a schema imports a namespace itself, so that libxml2 will not ask for it again. */
static bool has_namespace(xmlDocPtr document, const xmlChar *namespace)
{
    bool has = false;

    for (xmlNodePtr at = first_import(document); at && !has; at = import_from(at->next)) {
        xmlChar *const own = xmlGetProp(at, BAD_CAST "namespace");
        has = own && xmlStrEqual(own, namespace);
        xmlFree(own);
    }
    return has;
}

/* Whether what a file beside imports lies beside as well, or has been imported before. */
static bool leads_nowhere(xmlDocPtr schema, const char *path)
{
    const xmlDocPtr document = xmlReadFile(path, NULL, READING);
    bool known = true;

    for (xmlNodePtr at = first_import(document); at && known; at = import_from(at->next)) {
        xmlChar *const namespace = xmlGetProp(at, BAD_CAST "namespace");
        known = namespace && has_namespace(schema, namespace);
        xmlFree(namespace);
    }
    xmlFreeDoc(document);
    return known;
}

/* Points what a schema imports to the files beside it. What is not there stays unknown to it: the
 * loader, which is the whole program's, is never asked for it. */
static void import_from_beside(xmlDocPtr schema, const char *path)
{
    char beside[4096];

    for (xmlNodePtr at = first_import(schema), next = NULL; at; at = next) {
        next = import_from(at->next);
        xmlChar *const location = xmlGetProp(at, BAD_CAST "schemaLocation");
        const bool is_there =
            location && is_beside(path, (const char *)location, beside, sizeof beside);
        xmlFree(location);
        if (is_there && leads_nowhere(schema, beside))
            (void)xmlSetProp(at, BAD_CAST "schemaLocation", BAD_CAST beside);
        else
            (void)xmlUnsetProp(at, BAD_CAST "schemaLocation");
    }
}

static xmlSchemaPtr compile(xmlDocPtr document, struct complaint *complaint)
{
    const xmlSchemaParserCtxtPtr parser = xmlSchemaNewDocParserCtxt(document);

    if (!parser)
        return NULL;
    xmlSchemaSetParserStructuredErrors(parser, on_schema_error, complaint);
    const xmlSchemaPtr compiled = xmlSchemaParse(parser);
    xmlSchemaFreeParserCtxt(parser);
    return compiled;
}

muta_status muta_schema_read(const char *path, muta_schema **schema, muta_diags *diags)
{
    struct complaint complaint = {.diags = diags, .path = path};

    if (access(path, R_OK) != 0) {
        muta_diag_add(diags, MUTA_ERROR, MUTA_NOWHERE, "the schema %s cannot be read", path);
        return MUTA_E_NO_INPUT;
    }
    muta_schema *const made = calloc(1, sizeof *made);
    if (!made)
        return MUTA_E_MEMORY;
    muta_xml_start();
    made->document = xmlReadFile(path, NULL, READING);
    if (made->document) {
        import_from_beside(made->document, path);
        made->compiled = compile(made->document, &complaint);
    } else {
        muta_diag_add(diags, MUTA_ERROR, MUTA_NOWHERE, "%s is not an XML Schema", path);
    }
    if (!made->compiled) {
        muta_schema_free(made);
        return MUTA_E_DATA;
    }
    *schema = made;
    return MUTA_OK;
}

void muta_schema_free(muta_schema *schema)
{
    if (!schema)
        return;
    xmlSchemaFree(schema->compiled);
    xmlFreeDoc(schema->document);
    free(schema);
}

muta_status muta_schema_check(const muta_schema *schema, const char *at, size_t length,
                              muta_diags *diags)
{
    struct complaint complaint = {.diags = diags};

    if (length > INT32_MAX)
        return MUTA_E_RANGE;
    const xmlDocPtr document = xmlReadMemory(at, (int)length, NULL, NULL, READING);
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
