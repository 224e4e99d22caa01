/*
 * parse.c: libxml2's SAX2 interface, fed in pieces, from which the tree grows. What
 * stands before and behind the root goes into the tree as it was read, so that it can go out so.
 */
#include "musicxml/parse.h"
#include "base/buffer.h"
#include "musicxml/decode.h"
#include "musicxml/growth.h"
#include "musicxml/xml_start.h"
#include "mutanza/limits.h"
#include <libxml/SAX2.h>
#include <libxml/parser.h>
#include <libxml/parserInternals.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

struct parse {
    muta_tree *tree;
    muta_diags *diags;
    xmlParserCtxtPtr xml;
    muta_status status;
    muta_growth *growth;
    muta_growth_attribute attributes[UINT8_MAX]; /* of the tag that is read */
    size_t depth;
    muta_buffer prolog; /* all bytes up to the root's start */
    size_t prolog_end;
    muta_buffer epilog; /* all bytes behind the root's end */
    muta_decoder *decoder;
    size_t fed;     /* bytes given to libxml2 */
    char last_byte; /* of them */
    bool root_began;
    bool root_ended;
    bool bare_newline; /* a line ended with LF alone */
    bool seen_newline;
    bool quot_escaped;
    bool apos_escaped;
    bool complained;
};

static muta_status bytes_read(void *from, char *at, size_t room, size_t *got)
{
    muta_bytes *const bytes = from;

    *got = bytes->left < room ? bytes->left : room;
    if (*got > 0)
        memcpy(at, bytes->at, *got);
    bytes->at += *got;
    bytes->left -= *got;
    return MUTA_OK;
}

muta_source muta_source_of_bytes(muta_bytes *bytes)
{
    return (muta_source){bytes_read, bytes};
}

/* The first failure counts and ends the parsing. */
static void stop(struct parse *parse, muta_status status)
{
    if (status == MUTA_OK || parse->status != MUTA_OK)
        return;
    parse->status = status;
    if (parse->xml)
        xmlStopParser(parse->xml);
}

static muta_place here(const struct parse *parse)
{
    muta_place place = MUTA_NOWHERE;

    place.line = parse->xml && parse->xml->input ? parse->xml->input->line : 0;
    return place;
}

/* Says why, once. */
static void complain(struct parse *parse, const char *why)
{
    if (!parse->complained && parse->status == MUTA_OK)
        muta_diag_add(parse->diags, MUTA_ERROR, here(parse), "%s", why);
    parse->complained = true;
}

/* Says why, and ends the parsing. */
static void refuse(struct parse *parse, const char *why)
{
    complain(parse, why);
    stop(parse, MUTA_E_DATA);
}

/* The prolog was kept with the whole first piece; the root begins at its last `<`. */
static void end_prolog(struct parse *parse)
{
    const long consumed = xmlByteConsumed(parse->xml);
    size_t at = consumed > 0 && (size_t)consumed < parse->prolog.length ? (size_t)consumed : 0;

    while (at > 0 && parse->prolog.at[at] != '<')
        at--;
    parse->prolog_end = at;
    parse->root_began = true;
}

static size_t name_length(const xmlChar *local, const xmlChar *prefix)
{
    return strlen((const char *)local) + (prefix ? strlen((const char *)prefix) + 1 : 0);
}

/*
 * A start tag is mostly laid out in one way: single blanks between name and attributes. One of
 * another length (line ends in it, a blank before its end) is kept as it is; NULL: it is not odd.
 */
static const xmlChar *odd_tag(const struct parse *parse, const xmlChar *local,
                              const xmlChar *prefix, int count, const xmlChar **values)
{
    const xmlParserInput *const input = parse->xml->input;
    const xmlChar *start = input->cur;
    size_t plain = 1 + name_length(local, prefix);

    for (int i = 0; i < count; i++, values += 5)
        plain += 1 + name_length(values[0], values[1]) + 2 + (size_t)(values[4] - values[3]) + 1;
    /* No < stands inside a tag, so the first one before its end is its start. */
    if ((size_t)(start - input->base) >= plain && start[-(ptrdiff_t)plain] == '<')
        return NULL;
    while (start > input->base && *start != '<')
        start--;
    return *start == '<' ? start : NULL;
}

/* A namespace as libxml2 gives it: prefix, URI; the latter may be NULL. */
static muta_growth_attribute namespace_of(const xmlChar **of)
{
    const char *const prefix = (const char *)of[0];
    const char *const uri = of[1] ? (const char *)of[1] : "";

    return (muta_growth_attribute){{prefix ? prefix : "xmlns", prefix ? "xmlns" : NULL},
                                   {uri, strlen(uri)}};
}

/* An attribute as libxml2 gives it: local name, prefix, URI, value, the value's end. */
static muta_growth_attribute attribute_of(const xmlChar **of)
{
    return (muta_growth_attribute){{(const char *)of[0], (const char *)of[1]},
                                   {(const char *)of[3], (size_t)(of[4] - of[3])}};
}

static muta_status put_start(struct parse *parse, const xmlChar *local, const xmlChar *prefix,
                             int namespace_count, const xmlChar **namespaces, int count,
                             const xmlChar **values)
{
    const xmlChar *const end = parse->xml->input->cur;
    const xmlChar *const odd =
        namespace_count == 0 ? odd_tag(parse, local, prefix, count, values) : NULL;
    /* The tag's end is not read yet: a slash there is an empty element's short form. */
    muta_start_tag tag = {.name = {(const char *)local, (const char *)prefix},
                          .line = (uint32_t)parse->xml->input->line,
                          .is_open = *end != '/',
                          .attributes = parse->attributes};

    if ((size_t)count + (size_t)namespace_count > MUTA_LENGTH(parse->attributes))
        return MUTA_E_RANGE;
    for (int i = 0; i < namespace_count; i++)
        parse->attributes[tag.count++] = namespace_of(&namespaces[(size_t)i * 2]);
    for (int i = 0; i < count; i++)
        parse->attributes[tag.count++] = attribute_of(&values[(size_t)i * 5]);
    if (odd)
        tag.odd = (muta_text){(const char *)odd, (size_t)(end - odd)};
    return muta_growth_start(parse->growth, &tag);
}

/* ---- what libxml2 calls ---- */

static void on_start(void *data, const xmlChar *local, const xmlChar *prefix, const xmlChar *uri,
                     int namespace_count, const xmlChar **namespaces, int count, int defaulted,
                     const xmlChar **values)
{
    struct parse *const parse = data;

    (void)uri;
    if (parse->status != MUTA_OK)
        return;
    if (parse->depth == MUTA_LIMIT_DEPTH) {
        refuse(parse, "elements lie too deep within each other; this is no score");
        return;
    }
    if (parse->depth == 0)
        end_prolog(parse);
    parse->depth++;
    stop(parse,
         put_start(parse, local, prefix, namespace_count, namespaces, count - defaulted, values));
}

/* What libxml2 has read and not looked at when the root ends; the rest comes with on_read. */
static muta_status start_epilog(struct parse *parse)
{
    const xmlParserInput *const input = parse->xml->input;

    parse->root_ended = true;
    return muta_buffer_put(&parse->epilog, (const char *)input->cur,
                           (size_t)(input->end - input->cur));
}

static void on_end(void *data, const xmlChar *local, const xmlChar *prefix, const xmlChar *uri)
{
    struct parse *const parse = data;

    (void)local;
    (void)prefix;
    (void)uri;
    if (parse->status != MUTA_OK)
        return;
    stop(parse, muta_growth_end(parse->growth));
    if (--parse->depth == 0)
        stop(parse, start_epilog(parse));
}

/* Whether libxml2 hands out a character that stood as a reference, not in its input. */
static bool from_reference(const struct parse *parse, const xmlChar *at)
{
    const xmlParserInput *const input = parse->xml->input;

    return at < input->base || at >= input->end;
}

static void on_text(void *data, const xmlChar *at, int length)
{
    struct parse *const parse = data;

    if (parse->status != MUTA_OK || parse->depth == 0)
        return;
    if (length == 1 && *at == '"' && from_reference(parse, at))
        parse->quot_escaped = true;
    if (length == 1 && *at == '\'' && from_reference(parse, at))
        parse->apos_escaped = true;
    stop(parse, muta_growth_text(parse->growth, (const char *)at, (size_t)length));
}

/* Comments and instructions outside the root stay in the prolog and the epilog. */
static void on_instruction(void *data, const xmlChar *target, const xmlChar *text)
{
    struct parse *const parse = data;
    const char *const said = text ? (const char *)text : "";

    if (parse->status == MUTA_OK && parse->depth > 0)
        stop(parse, muta_growth_aside(parse->growth, (const char *)target, said, strlen(said)));
}

static void on_comment(void *data, const xmlChar *text)
{
    on_instruction(data, NULL, text);
}

static void on_cdata(void *data, const xmlChar *text, int length)
{
    struct parse *const parse = data;

    if (parse->status == MUTA_OK && parse->depth > 0)
        stop(parse, muta_growth_cdata(parse->growth, (const char *)text, (size_t)length));
}

static void on_doctype(void *data, const xmlChar *name, const xmlChar *public_id,
                       const xmlChar *system_id)
{
    struct parse *const parse = data;

    (void)name;
    (void)public_id;
    (void)system_id;
    if (parse->xml->input->cur < parse->xml->input->end && *parse->xml->input->cur == '[')
        refuse(parse, "the DOCTYPE defines things of its own; take its [...] part out");
}

static void on_reference(void *data, const xmlChar *name)
{
    char why[128];

    (void)snprintf(why, sizeof why, "the entity &%.40s; is not defined; write the character itself",
                   (const char *)name);
    refuse(data, why);
}

/* The first fatal error says what is wrong; later ones are its echoes. */
static void on_error(void *data, xmlErrorPtr error)
{
    struct parse *const parse = data;
    char text[160];
    muta_place place = MUTA_NOWHERE;

    const bool entity =
        error->code == XML_ERR_UNDECLARED_ENTITY || error->code == XML_WAR_UNDECLARED_ENTITY;
    if ((error->level < XML_ERR_FATAL && !entity) || parse->complained || parse->status != MUTA_OK)
        return;
    parse->complained = true;
    parse->status = MUTA_E_DATA;
    if (parse->fed == 0) {
        muta_diag_add(parse->diags, MUTA_ERROR, place, "the file is empty");
        return;
    }
    size_t length = error->message ? strcspn(error->message, "\n") : 0;
    length = length < sizeof text ? length : sizeof text - 1;
    memcpy(text, error->message ? error->message : "", length);
    text[length] = '\0';
    place.line = error->line;
    muta_diag_add(parse->diags, MUTA_ERROR, place, "not well-formed XML: %s", text);
}

static xmlSAXHandler handlers(void)
{
    xmlSAXHandler sax;

    memset(&sax, 0, sizeof sax);
    sax.initialized = XML_SAX2_MAGIC;
    sax.internalSubset = on_doctype;
    sax.startElementNs = on_start;
    sax.endElementNs = on_end;
    sax.characters = on_text;
    sax.ignorableWhitespace = on_text;
    sax.comment = on_comment;
    sax.processingInstruction = on_instruction;
    sax.cdataBlock = on_cdata;
    sax.reference = on_reference;
    sax.serror = on_error;
    return sax;
}

/* Whether all lines end alike can only be seen in the bytes: libxml2 gives LF for both. */
static void watch_newlines(struct parse *parse, const char *at, size_t length)
{
    const char *const end = at + length;

    if (parse->bare_newline || length == 0)
        return;
    for (const char *found = at; (found = memchr(found, '\n', (size_t)(end - found))); found++) {
        parse->seen_newline = true;
        if ((found == at ? parse->last_byte : found[-1]) != '\r') {
            parse->bare_newline = true;
            return;
        }
    }
    parse->last_byte = end[-1];
}

/* Keeps what stands before the root, and what comes when it has ended. */
static muta_status keep_outside(struct parse *parse, const char *at, size_t length)
{
    muta_buffer *const outside = parse->root_began ? &parse->epilog : &parse->prolog;

    if (parse->root_began && !parse->root_ended)
        return MUTA_OK;
    if (outside->length + length > (size_t)MUTA_LIMIT_PROLOG) {
        complain(parse, "too much stands outside the score's root element");
        return MUTA_E_DATA;
    }
    return muta_buffer_put(outside, at, length);
}

/* Gives libxml2 the next bytes; -1 ends the parsing. The parser is not stopped while it reads: it
 * would go on with a buffer that is gone. */
static int on_read(void *data, char *at, int room)
{
    struct parse *const parse = data;
    size_t got = 0;

    if (parse->status == MUTA_OK)
        parse->status = muta_decoder_read(parse->decoder, at, (size_t)room, &got);
    if (parse->status != MUTA_OK)
        return -1;
    parse->fed += got;
    if (parse->fed > (size_t)MUTA_LIMIT_XML_BYTES) {
        complain(parse, "the score is larger than 1 GiB");
        parse->status = MUTA_E_DATA;
        return -1;
    }
    watch_newlines(parse, at, got);
    parse->status = keep_outside(parse, at, got);
    return parse->status == MUTA_OK ? (int)got : -1;
}

static muta_status finish(struct parse *parse)
{
    muta_tree *const tree = parse->tree;

    if (parse->xml->errNo == XML_ERR_NO_MEMORY)
        stop(parse, MUTA_E_MEMORY);
    if (parse->status == MUTA_OK && (!parse->xml->wellFormed || !tree->root))
        refuse(parse, "not well-formed XML: it ends too early");
    if (parse->status != MUTA_OK)
        return parse->status;
    while (parse->epilog.length > 0 && parse->epilog.at[parse->epilog.length - 1] == '\0')
        parse->epilog.length--;
    tree->crlf = parse->seen_newline && !parse->bare_newline;
    tree->quot_escaped = parse->quot_escaped;
    tree->apos_escaped = parse->apos_escaped;
    MUTA_TRY(muta_tree_intern(tree, parse->prolog.at, parse->prolog_end, &tree->prolog));
    return muta_tree_intern(tree, parse->epilog.at, parse->epilog.length, &tree->epilog);
}

static muta_status run(struct parse *parse)
{
    xmlSAXHandler sax = handlers();

    muta_xml_start();
    parse->xml = xmlCreateIOParserCtxt(&sax, parse, on_read, NULL, parse, XML_CHAR_ENCODING_NONE);
    if (!parse->xml)
        return parse->status == MUTA_OK ? MUTA_E_MEMORY : parse->status;
    (void)xmlCtxtUseOptions(parse->xml, XML_PARSE_NONET | XML_PARSE_IGNORE_ENC);
    (void)xmlParseDocument(parse->xml);
    const muta_status status = finish(parse);
    xmlFreeParserCtxt(parse->xml);
    return status;
}

muta_status muta_parse(muta_source source, muta_tree *tree, muta_diags *diags)
{
    muta_status status = MUTA_E_MEMORY;
    struct parse *const parse = calloc(1, sizeof *parse);

    if (!parse)
        return status;
    parse->tree = tree;
    parse->diags = diags;
    parse->growth = muta_growth_new(tree);
    if (parse->growth)
        status = muta_decoder_new(source, diags, &parse->decoder);
    if (status == MUTA_OK)
        status = run(parse);
    muta_growth_free(parse->growth);
    muta_decoder_free(parse->decoder);
    free(parse->prolog.at);
    free(parse->epilog.at);
    free(parse);
    return status;
}
