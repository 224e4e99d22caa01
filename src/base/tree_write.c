/* tree_write.c: the tree as XML text again, in the form in which it was read. */
#include "base/tree.h"
#include <string.h>

enum {
    ROOM = 32 * 1024
};

struct writer {
    const muta_tree *tree;
    muta_sink sink;
    muta_status status;
    size_t nodes;
    size_t used;
    char bytes[ROOM];
};

static void flush(struct writer *writer)
{
    if (writer->status == MUTA_OK && writer->used > 0)
        writer->status = writer->sink.write(writer->sink.to, writer->bytes, writer->used);
    writer->used = 0;
}

static void put_long(struct writer *writer, const char *at, size_t length)
{
    flush(writer);
    if (writer->status == MUTA_OK)
        writer->status = writer->sink.write(writer->sink.to, at, length);
}

static inline void put(struct writer *writer, const char *at, size_t length)
{
    if (length > ROOM) {
        put_long(writer, at, length);
        return;
    }
    if (length > ROOM - writer->used)
        flush(writer);
    memcpy(writer->bytes + writer->used, at, length);
    writer->used += length;
}

static void put_text(struct writer *writer, const char *text)
{
    put(writer, text, strlen(text));
}

static void put_string(struct writer *writer, muta_string string)
{
    const muta_tree_string *const text = &writer->tree->strings.at[string];

    put(writer, text->at, text->length);
}

/* What stands for a character in text or in an attribute's value; NULL: itself. */
static const char *reference(const muta_tree *tree, char c, bool in_attribute)
{
    switch (c) {
    case '&':
        return "&amp;";
    case '<':
        return "&lt;";
    case '>':
        return in_attribute ? NULL : "&gt;";
    case '"':
        return in_attribute || tree->quot_escaped ? "&quot;" : NULL;
    case '\'':
        return !in_attribute && tree->apos_escaped ? "&apos;" : NULL;
    case '\r':
        return "&#13;";
    case '\n':
        return in_attribute ? "&#10;" : tree->crlf ? "\r\n" : NULL;
    case '\t':
        return in_attribute ? "&#9;" : NULL;
    default:
        return NULL;
    }
}

static void put_escaped(struct writer *writer, muta_string string, bool in_attribute)
{
    const muta_tree_string *const text = &writer->tree->strings.at[string];
    const char *from = text->at;
    const char *const end = text->at + text->length;

    if (text->plain) {
        put(writer, text->at, text->length);
        return;
    }
    for (const char *at = from; at < end; at++) {
        if ((unsigned char)*at > '>')
            continue;
        const char *const other = reference(writer->tree, *at, in_attribute);
        if (!other)
            continue;
        put(writer, from, (size_t)(at - from));
        put_text(writer, other);
        from = at + 1;
    }
    put(writer, from, (size_t)(end - from));
}

static void put_blank(struct writer *writer, muta_string string)
{
    if (writer->tree->crlf)
        put_escaped(writer, string, false);
    else
        put_string(writer, string);
}

static void put_name(struct writer *writer, muta_name name)
{
    put_string(writer, writer->tree->names.at[name]);
}

static void put_start(struct writer *writer, const muta_tree_node *node)
{
    put(writer, "<", 1);
    put_name(writer, node->name);
    for (uint32_t i = 0; i < node->attribute_count; i++) {
        const muta_attribute *const attribute =
            muta_tree_attribute_at(writer->tree, node->attributes + i);
        put(writer, " ", 1);
        put_name(writer, attribute->name);
        put(writer, "=\"", 2);
        put_escaped(writer, attribute->value, true);
        put(writer, "\"", 1);
    }
}

/* The start tag as it was read. */
static muta_string odd_tag(const muta_tree *tree, muta_node node)
{
    size_t low = 0;
    size_t high = tree->odd_tags.count;

    while (high - low > 1) {
        const size_t middle = low + (high - low) / 2;
        if (tree->odd_tags.at[middle].node <= node)
            low = middle;
        else
            high = middle;
    }
    return tree->odd_tags.at[low].text;
}

static void put_node(struct writer *writer, muta_node node);

static void put_element(struct writer *writer, muta_node id, const muta_tree_node *node)
{
    if (node->odd_tag)
        put_string(writer, odd_tag(writer->tree, id));
    else
        put_start(writer, node);
    if (!node->child && !node->text && !node->open_form) {
        put(writer, "/>", 2);
        return;
    }
    put(writer, ">", 1);
    put_escaped(writer, node->text, false);
    for (muta_node child = node->child; child; child = muta_tree_next(writer->tree, child))
        put_node(writer, child);
    put_blank(writer, node->tail);
    put(writer, "</", 2);
    put_name(writer, node->name);
    put(writer, ">", 1);
}

/* Its depth is bounded: the reader refuses deeper documents. */
static void put_node(struct writer *writer, muta_node node)
{
    const muta_tree_node *const at = muta_tree_at(writer->tree, node);

    writer->nodes++;
    put_blank(writer, at->before);
    switch ((muta_node_kind)at->kind) {
    case MUTA_ELEMENT:
        put_element(writer, node, at);
        break;
    case MUTA_TEXT:
        put_escaped(writer, at->text, false);
        break;
    case MUTA_CDATA:
        put_text(writer, "<![CDATA[");
        put_string(writer, at->text);
        put_text(writer, "]]>");
        break;
    case MUTA_COMMENT:
        put_text(writer, "<!--");
        put_string(writer, at->text);
        put_text(writer, "-->");
        break;
    case MUTA_INSTRUCTION:
        put_text(writer, "<?");
        put_name(writer, at->name);
        if (at->text) {
            put(writer, " ", 1);
            put_string(writer, at->text);
        }
        put_text(writer, "?>");
        break;
    }
}

/* Writes a node, and with the root what stands outside it. */
static muta_status write_from(const muta_tree *tree, muta_node node, bool outside, muta_sink sink,
                              size_t *nodes)
{
    struct writer writer;

    writer.tree = tree;
    writer.sink = sink;
    writer.status = MUTA_OK;
    writer.nodes = 0;
    writer.used = 0;
    if (outside)
        put_string(&writer, tree->prolog);
    put_node(&writer, node);
    if (outside)
        put_string(&writer, tree->epilog);
    flush(&writer);
    *nodes = writer.nodes;
    return writer.status;
}

muta_status muta_tree_write(const muta_tree *tree, muta_sink sink, size_t *nodes)
{
    size_t count = 0;
    const muta_status status = write_from(tree, tree->root, true, sink, &count);

    if (nodes)
        *nodes = count;
    return status;
}

muta_status muta_tree_write_node(const muta_tree *tree, muta_node node, muta_sink sink)
{
    size_t count;

    return write_from(tree, node, false, sink, &count);
}
