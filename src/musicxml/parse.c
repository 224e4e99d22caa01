/*
 * parse.c: libxml2's SAX2 interface, fed in pieces, into a tree. What stands before and behind the
 * root goes into the tree as it was read, so that it can go out so.
 */
#include "musicxml/parse.h"
#include "base/buffer.h"
#include "musicxml/decode.h"
#include "mutanza/limits.h"
#include <libxml/SAX2.h>
#include <libxml/parser.h>
#include <libxml/parserInternals.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum {
    NAME_BITS = 10,
    NAME_SLOTS = 1 << NAME_BITS,
    BLANK_SLOTS = 128
};

/* libxml2 gives the same pointer for the same name, so a name is looked up once. */
struct name_slot {
    const xmlChar *prefix;
    const xmlChar *local;
    muta_name name;
};

struct level {
    muta_node node;
    muta_node last; /* its last child so far */
};

struct parse {
    muta_tree *tree;
    muta_diags *diags;
    xmlParserCtxtPtr xml;
    muta_status status;
    struct level stack[MUTA_LIMIT_DEPTH + 1];
    size_t depth;
    muta_buffer pending; /* character data not yet given to a node */
    muta_buffer prolog;  /* all bytes up to the root's start */
    muta_buffer epilog;  /* all bytes behind the root's end */
    muta_decoder *decoder;
    size_t fed;     /* bytes given to libxml2 */
    char last_byte; /* of them */
    bool root_ended;
    bool in_cdata;     /* the last node is CDATA, which libxml2 gives in pieces */
    bool bare_newline; /* a line ended with LF alone */
    bool seen_newline;
    bool complained;
    struct name_slot slots[NAME_SLOTS];
    muta_string blanks[BLANK_SLOTS]; /* the last white space of each length */
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

/* Says why, once, and ends the parsing. */
static void refuse(struct parse *parse, const char *why)
{
    if (!parse->complained && parse->status == MUTA_OK)
        muta_diag_add(parse->diags, MUTA_ERROR, here(parse), "%s", why);
    parse->complained = true;
    stop(parse, MUTA_E_DATA);
}

static muta_status hang(struct parse *parse, muta_node node)
{
    struct level *const level = &parse->stack[parse->depth];

    muta_tree_at(parse->tree, node)->line = (uint32_t)parse->xml->input->line & 0x3fffffffu;
    if (parse->depth > 0)
        muta_tree_insert(parse->tree, level->node, level->last, node);
    level->last = node;
    return MUTA_OK;
}

/* Half of all text is white space of a few lengths, seen before. */
static muta_string known_blank(const struct parse *parse)
{
    const muta_buffer *const pending = &parse->pending;
    const muta_string blank = parse->blanks[pending->length % BLANK_SLOTS];
    const muta_tree_string *const known = &parse->tree->strings.at[blank];

    return blank && known->length == pending->length &&
                   memcmp(known->at, pending->at, pending->length) == 0
               ? blank
               : 0;
}

/* Character data before a node: white space stays with the node, other text is a node itself. */
static muta_status flush(struct parse *parse, muta_string *blank)
{
    muta_node node;
    muta_buffer *const pending = &parse->pending;

    *blank = 0;
    parse->in_cdata = false;
    if (pending->length == 0)
        return MUTA_OK;
    *blank = known_blank(parse);
    if (*blank) {
        pending->length = 0;
        return MUTA_OK;
    }
    if (muta_text_is_blank(pending->at, pending->length)) {
        MUTA_TRY(muta_tree_intern(parse->tree, pending->at, pending->length, blank));
        parse->blanks[pending->length % BLANK_SLOTS] = *blank;
    } else {
        MUTA_TRY(muta_tree_add(parse->tree, MUTA_TEXT, 0, &node));
        MUTA_TRY(muta_tree_intern(parse->tree, pending->at, pending->length,
                                  &muta_tree_at(parse->tree, node)->text));
        MUTA_TRY(hang(parse, node));
    }
    pending->length = 0;
    return MUTA_OK;
}

static muta_status qualified(struct parse *parse, const xmlChar *prefix, const xmlChar *local,
                             muta_name *name)
{
    char both[256];
    const size_t head = prefix ? strlen((const char *)prefix) : 0;
    const size_t tail = strlen((const char *)local);

    if (!prefix)
        return muta_tree_intern_name(parse->tree, (const char *)local, tail, name);
    if (head + tail + 1 > sizeof both)
        return MUTA_E_RANGE;
    memcpy(both, prefix, head);
    both[head] = ':';
    memcpy(both + head + 1, local, tail);
    return muta_tree_intern_name(parse->tree, both, head + tail + 1, name);
}

static muta_status name_of(struct parse *parse, const xmlChar *prefix, const xmlChar *local,
                           muta_name *name)
{
    const uint64_t mixed = ((uint64_t)(uintptr_t)local + (uint64_t)(uintptr_t)prefix * 31) *
                           UINT64_C(0x9e3779b97f4a7c15);
    struct name_slot *const slot = &parse->slots[mixed >> (64 - NAME_BITS)];

    if (slot->local != local || slot->prefix != prefix || !slot->name) {
        MUTA_TRY(qualified(parse, prefix, local, &slot->name));
        slot->local = local;
        slot->prefix = prefix;
    }
    *name = slot->name;
    return MUTA_OK;
}

/* Without entity substitution libxml2 leaves the ampersand in an attribute as `&#38;`. */
static muta_status intern_value(muta_tree *tree, const char *at, size_t length, muta_string *value)
{
    static const char reference[] = "&#38;";
    enum {
        REFERENCE = sizeof reference - 1
    };

    if (!memchr(at, '&', length))
        return muta_tree_intern(tree, at, length, value);
    char *const plain = malloc(length);
    size_t used = 0;
    if (!plain)
        return MUTA_E_MEMORY;
    for (size_t i = 0; i < length; i++) {
        plain[used++] = at[i];
        if (length - i >= REFERENCE && memcmp(at + i, reference, REFERENCE) == 0)
            i += REFERENCE - 1;
    }
    const muta_status status = muta_tree_intern(tree, plain, used, value);
    free(plain);
    return status;
}

static muta_status add_namespaces(struct parse *parse, muta_attribute *attribute, int count,
                                  const xmlChar **namespaces)
{
    static const xmlChar xmlns[] = "xmlns";

    for (int i = 0; i < count; i++, attribute++) {
        const xmlChar *const prefix = namespaces[(size_t)i * 2];
        const char *const uri = (const char *)namespaces[(size_t)i * 2 + 1];
        MUTA_TRY(
            qualified(parse, prefix ? xmlns : NULL, prefix ? prefix : xmlns, &attribute->name));
        if (uri)
            MUTA_TRY(intern_value(parse->tree, uri, strlen(uri), &attribute->value));
    }
    return MUTA_OK;
}

static muta_status add_element(struct parse *parse, const xmlChar *local, const xmlChar *prefix,
                               int namespace_count, const xmlChar **namespaces, int count,
                               const xmlChar **values)
{
    muta_string blank;
    muta_name name;
    muta_node node;
    muta_attribute *attribute;

    MUTA_TRY(flush(parse, &blank));
    MUTA_TRY(name_of(parse, prefix, local, &name));
    MUTA_TRY(muta_tree_add(parse->tree, MUTA_ELEMENT, name, &node));
    muta_tree_at(parse->tree, node)->before = blank;
    MUTA_TRY(hang(parse, node));
    if (parse->depth == 0)
        parse->tree->root = node;
    parse->stack[++parse->depth] = (struct level){.node = node};
    if (count + namespace_count == 0)
        return MUTA_OK;
    MUTA_TRY(
        muta_tree_add_attributes(parse->tree, node, (size_t)(count + namespace_count), &attribute));
    MUTA_TRY(add_namespaces(parse, attribute, namespace_count, namespaces));
    attribute += namespace_count;
    for (int i = 0; i < count; i++, attribute++) {
        const xmlChar **const of = &values[(size_t)i * 5]; /* local, prefix, URI, value, its end */
        MUTA_TRY(name_of(parse, of[1], of[0], &attribute->name));
        MUTA_TRY(intern_value(parse->tree, (const char *)of[3], (size_t)(of[4] - of[3]),
                              &attribute->value));
    }
    return MUTA_OK;
}

/* The prolog was kept with the whole first piece; the root begins at its last `<`. */
static muta_status end_prolog(struct parse *parse)
{
    const long consumed = xmlByteConsumed(parse->xml);
    size_t at = consumed > 0 && (size_t)consumed < parse->prolog.length ? (size_t)consumed : 0;

    while (at > 0 && parse->prolog.at[at] != '<')
        at--;
    return muta_tree_intern(parse->tree, parse->prolog.at, at, &parse->tree->prolog);
}

static size_t name_length(const muta_tree *tree, muta_name name)
{
    return tree->strings.at[tree->names.at[name]].length;
}

/* How long the start tag is when it is laid out as this program does. */
static size_t plain_length(const muta_tree *tree, muta_node node, const xmlChar **values)
{
    const muta_tree_node *const at = muta_tree_at(tree, node);
    size_t length = 1 + name_length(tree, at->name);

    for (uint32_t i = 0; i < at->attribute_count; i++, values += 5)
        length += 1 + name_length(tree, muta_tree_attribute_at(tree, at->attributes + i)->name) +
                  2 + (size_t)(values[4] - values[3]) + 1;
    return length;
}

/*
 * A start tag is mostly laid out in one way: single blanks between name and attributes. One of
 * another length (line ends in it, a blank before its end) is kept as it is.
 */
static muta_status keep_odd_tag(struct parse *parse, const xmlChar **values)
{
    const xmlParserInput *const input = parse->xml->input;
    const muta_node node = parse->stack[parse->depth].node;
    const size_t plain = plain_length(parse->tree, node, values);
    const xmlChar *start = input->cur;

    /* No < stands inside a tag, so the first one before its end is its start. */
    if ((size_t)(start - input->base) >= plain && start[-(ptrdiff_t)plain] == '<')
        return MUTA_OK;
    while (start > input->base && *start != '<')
        start--;
    return *start != '<' ? MUTA_OK
                         : muta_tree_keep_tag(parse->tree, node, (const char *)start,
                                              (size_t)(input->cur - start));
}

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
        stop(parse, end_prolog(parse));
    if (parse->status != MUTA_OK)
        return;
    stop(parse,
         add_element(parse, local, prefix, namespace_count, namespaces, count - defaulted, values));
    if (parse->status == MUTA_OK && namespace_count == 0)
        stop(parse, keep_odd_tag(parse, values));
    /* The tag's end is not read yet: a slash there is an empty element's short form. */
    if (parse->status == MUTA_OK)
        muta_tree_at(parse->tree, parse->stack[parse->depth].node)->open_form =
            *parse->xml->input->cur != '/';
}

static muta_status end_element(struct parse *parse)
{
    const struct level *const level = &parse->stack[parse->depth];
    muta_tree_node *node = muta_tree_at(parse->tree, level->node);
    muta_buffer *const pending = &parse->pending;
    muta_string blank;

    parse->in_cdata = false;
    if (!node->child) {
        MUTA_TRY(muta_tree_intern(parse->tree, pending->at, pending->length, &node->text));
        pending->length = 0;
    } else {
        MUTA_TRY(flush(parse, &blank));
        muta_tree_at(parse->tree, level->node)->tail = blank;
    }
    parse->depth--;
    return MUTA_OK;
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
    stop(parse, end_element(parse));
    if (parse->depth == 0)
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
        parse->tree->quot_escaped = true;
    if (length == 1 && *at == '\'' && from_reference(parse, at))
        parse->tree->apos_escaped = true;
    parse->in_cdata = false;
    stop(parse, muta_buffer_put(&parse->pending, (const char *)at, (size_t)length));
}

static muta_status add_other(struct parse *parse, muta_node_kind kind, const xmlChar *target,
                             const xmlChar *text, size_t length)
{
    muta_string blank;
    muta_node node;
    muta_name name = 0;

    MUTA_TRY(flush(parse, &blank));
    if (target)
        MUTA_TRY(qualified(parse, NULL, target, &name));
    MUTA_TRY(muta_tree_add(parse->tree, kind, name, &node));
    muta_tree_at(parse->tree, node)->before = blank;
    if (text)
        MUTA_TRY(muta_tree_intern(parse->tree, (const char *)text, length,
                                  &muta_tree_at(parse->tree, node)->text));
    return hang(parse, node);
}

/* Comments and instructions outside the root stay in the prolog and the epilog. */
static void on_comment(void *data, const xmlChar *text)
{
    struct parse *const parse = data;

    if (parse->status == MUTA_OK && parse->depth > 0)
        stop(parse, add_other(parse, MUTA_COMMENT, NULL, text, strlen((const char *)text)));
}

static void on_instruction(void *data, const xmlChar *target, const xmlChar *text)
{
    struct parse *const parse = data;

    if (parse->status == MUTA_OK && parse->depth > 0)
        stop(parse, add_other(parse, MUTA_INSTRUCTION, target, text,
                              text ? strlen((const char *)text) : 0));
}

static muta_status add_cdata(struct parse *parse, const char *text, size_t length)
{
    if (!parse->in_cdata) {
        MUTA_TRY(add_other(parse, MUTA_CDATA, NULL, (const xmlChar *)text, length));
        parse->in_cdata = true;
        return MUTA_OK;
    }
    muta_tree_node *const node = muta_tree_at(parse->tree, parse->stack[parse->depth].last);
    muta_buffer all = {0};
    muta_status status = muta_buffer_put(&all, parse->tree->strings.at[node->text].at,
                                         parse->tree->strings.at[node->text].length);
    if (status == MUTA_OK)
        status = muta_buffer_put(&all, text, length);
    if (status == MUTA_OK)
        status = muta_tree_intern(parse->tree, all.at, all.length, &node->text);
    free(all.at);
    return status;
}

static void on_cdata(void *data, const xmlChar *text, int length)
{
    struct parse *const parse = data;

    if (parse->status == MUTA_OK && parse->depth > 0)
        stop(parse, add_cdata(parse, (const char *)text, (size_t)length));
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
    muta_buffer *const outside = parse->tree->root ? &parse->epilog : &parse->prolog;

    if (parse->tree->root && !parse->root_ended)
        return MUTA_OK;
    if (outside->length + length > (size_t)MUTA_LIMIT_PROLOG) {
        refuse(parse, "too much stands outside the score's root element");
        return MUTA_E_DATA;
    }
    return muta_buffer_put(outside, at, length);
}

/* Gives libxml2 the next bytes; -1 ends the parsing. */
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
        refuse(parse, "the score is larger than 1 GiB");
        return -1;
    }
    watch_newlines(parse, at, got);
    parse->status = keep_outside(parse, at, got);
    return parse->status == MUTA_OK ? (int)got : -1;
}

static muta_status finish(struct parse *parse)
{
    muta_tree *const tree = parse->tree;

    if (parse->status == MUTA_OK && (!parse->xml->wellFormed || !tree->root))
        refuse(parse, "not well-formed XML: it ends too early");
    if (parse->status != MUTA_OK)
        return parse->status;
    while (parse->epilog.length > 0 && parse->epilog.at[parse->epilog.length - 1] == '\0')
        parse->epilog.length--;
    tree->crlf = parse->seen_newline && !parse->bare_newline;
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
    status = muta_decoder_new(source, diags, &parse->decoder);
    if (status == MUTA_OK)
        status = run(parse);
    muta_decoder_free(parse->decoder);
    free(parse->pending.at);
    free(parse->prolog.at);
    free(parse->epilog.at);
    free(parse);
    return status;
}
