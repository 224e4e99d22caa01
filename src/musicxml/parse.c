/*
 * parse.c: libxml2's SAX2 interface, fed in pieces, into events from which the tree grows. What
 * stands before and behind the root goes into the tree as it was read, so that it can go out so.
 */
#include "musicxml/parse.h"
#include "base/buffer.h"
#include "musicxml/decode.h"
#include "musicxml/relay.h"
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
    muta_relay *relay;
    muta_batch *batch; /* where the next event goes */
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

/* ---- events ---- */

/* Room for an event of so many bytes; NULL when memory runs out. */
static char *reserve(struct parse *parse, size_t bytes)
{
    muta_buffer *const events = &parse->batch->events;

    if (bytes > events->room - events->length && muta_buffer_reserve(events, bytes) != MUTA_OK) {
        stop(parse, MUTA_E_MEMORY);
        return NULL;
    }
    return events->at + events->length;
}

/* Says that an event stands there up to `end`. */
static void pass(struct parse *parse, const char *end)
{
    muta_buffer *const events = &parse->batch->events;

    events->length = (size_t)(end - events->at);
    if (events->length < parse->batch->enough)
        return;
    stop(parse, muta_relay_pass(parse->relay));
    parse->batch = muta_relay_batch(parse->relay);
}

static inline char *put(char *to, const void *at, size_t length)
{
    if (length > 0) /* an instruction may have no text at all */
        memcpy(to, at, length);
    return to + length;
}

static inline char *put_word(char *to, muta_event_kind kind, unsigned rest)
{
    const muta_event_word word = {.kind = kind, .rest = rest & MUTA_EVENT_LONGEST};

    return put(to, &word, sizeof word);
}

/* An event that is a text. */
static void put_text(struct parse *parse, muta_event_kind kind, const xmlChar *target,
                     const xmlChar *text, size_t length)
{
    char *to = reserve(parse, sizeof(muta_event_word) + sizeof target + length);

    if (length > MUTA_EVENT_LONGEST)
        stop(parse, MUTA_E_RANGE);
    if (!to || parse->status != MUTA_OK)
        return;
    to = put_word(to, kind, (unsigned)length);
    if (target)
        to = put(to, &target, sizeof target);
    pass(parse, put(to, text, length));
}

static char *put_name(char *to, const xmlChar *local, const xmlChar *prefix)
{
    to = put(to, &local, sizeof local);
    return prefix ? put(to, &prefix, sizeof prefix) : to;
}

/* An attribute as libxml2 gives it: local name, prefix, URI, value, the value's end. */
static char *put_attribute(char *to, const xmlChar **of)
{
    const size_t length = (size_t)(of[4] - of[3]);
    const muta_event_value value = {.has_prefix = of[1] != NULL, .length = length & INT32_MAX};

    return put(put_name(put(to, &value, sizeof value), of[0], of[1]), of[3], length);
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

/* Room that is enough for a start. */
static size_t start_size(int namespace_count, int count, const xmlChar **values)
{
    enum {
        ADDRESSES = 2 * sizeof(const xmlChar *)
    };
    size_t size =
        sizeof(muta_event_word) + 2 * sizeof(uint32_t) + ADDRESSES * (1 + (size_t)namespace_count);

    for (int i = 0; i < count; i++, values += 5)
        size += sizeof(muta_event_value) + ADDRESSES + (size_t)(values[4] - values[3]);
    return size;
}

static void put_start(struct parse *parse, const xmlChar *local, const xmlChar *prefix,
                      int namespace_count, const xmlChar **namespaces, int count,
                      const xmlChar **values)
{
    const xmlChar *const end = parse->xml->input->cur;
    const xmlChar *const odd =
        namespace_count == 0 ? odd_tag(parse, local, prefix, count, values) : NULL;
    const uint32_t line = (uint32_t)parse->xml->input->line;
    const uint32_t length = odd ? (uint32_t)(end - odd) : 0;

    if (count + namespace_count > UINT8_MAX) {
        stop(parse, MUTA_E_RANGE);
        return;
    }
    char *to = reserve(parse, start_size(namespace_count, count, values) + length);
    if (!to)
        return;
    /* The tag's end is not read yet: a slash there is an empty element's short form. */
    to = put_word(to, MUTA_EVENT_START,
                  (unsigned)count | (unsigned)namespace_count << MUTA_START_SHIFT |
                      (*end != '/' ? MUTA_START_OPEN : 0U) | (prefix ? MUTA_START_PREFIX : 0U) |
                      (odd ? MUTA_START_ODD : 0U));
    to = put_name(put(to, &line, sizeof line), local, prefix);
    if (namespace_count > 0) /* each a prefix and a URI */
        to = put(to, (const void *)namespaces,
                 2 * (size_t)namespace_count * sizeof(const xmlChar *));
    for (int i = 0; i < count; i++)
        to = put_attribute(to, &values[(size_t)i * 5]);
    pass(parse, odd ? put(put(to, &length, sizeof length), odd, length) : to);
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
    put_start(parse, local, prefix, namespace_count, namespaces, count - defaulted, values);
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
    char *const to = reserve(parse, sizeof(muta_event_word));
    if (to)
        pass(parse, put_word(to, MUTA_EVENT_END, 0));
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
    put_text(parse, MUTA_EVENT_TEXT, NULL, at, (size_t)length);
}

/* Comments and instructions outside the root stay in the prolog and the epilog. */
static void on_comment(void *data, const xmlChar *text)
{
    struct parse *const parse = data;

    if (parse->status == MUTA_OK && parse->depth > 0)
        put_text(parse, MUTA_EVENT_COMMENT, NULL, text, strlen((const char *)text));
}

static void on_instruction(void *data, const xmlChar *target, const xmlChar *text)
{
    struct parse *const parse = data;

    if (parse->status == MUTA_OK && parse->depth > 0)
        put_text(parse, MUTA_EVENT_INSTRUCTION, target, text,
                 text ? strlen((const char *)text) : 0);
}

static void on_cdata(void *data, const xmlChar *text, int length)
{
    struct parse *const parse = data;

    if (parse->status == MUTA_OK && parse->depth > 0)
        put_text(parse, MUTA_EVENT_CDATA, NULL, text, (size_t)length);
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

    /* The names stay as long as the parser does. */
    const muta_status grown = muta_relay_end(parse->relay);
    stop(parse, grown);
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
    parse->relay = muta_relay_new(tree);
    if (parse->relay) {
        parse->batch = muta_relay_batch(parse->relay);
        status = muta_decoder_new(source, diags, &parse->decoder);
    }
    if (status == MUTA_OK)
        status = run(parse);
    muta_relay_free(parse->relay);
    muta_decoder_free(parse->decoder);
    free(parse->prolog.at);
    free(parse->epilog.at);
    free(parse);
    return status;
}
