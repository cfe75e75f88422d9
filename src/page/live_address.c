#include "page/live_address.h"

#include "base/text.h"

#include <arpa/inet.h>
#include <ifaddrs.h>
#include <netdb.h>
#include <netinet/in.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>

static const char usual[] = "127.0.0.1:8470";
enum { LARGEST_PORT = 65535 };

/* Parts "[::1]:80" and "host:80". */
static bool part(char host[LIVE_HOST_SIZE], long *port, const char *text)
{
    const char *colon = strrchr(text, ':');
    bool bracket = text[0] == '[';
    size_t length = colon ? (size_t)(colon - text) : 0;
    if (!colon || strchr(text, '/') || !text_read_long(port, colon + 1) || *port < 0 ||
        *port > LARGEST_PORT || length >= LIVE_HOST_SIZE ||
        (bracket && (length < 3 || text[length - 1] != ']'))) {
        return false;
    }
    length -= bracket ? 2 : 0;
    snprintf(host, LIVE_HOST_SIZE, "%.*s", (int)length, text + bracket);
    return length > 0 && (bracket || !strchr(host, ':'));
}

bool live_address_is_one(const char *text)
{
    char host[LIVE_HOST_SIZE];
    long port;
    return part(host, &port, text);
}

static bool is_own(const struct sockaddr_storage *where)
{
    const struct sockaddr_in *four = (const struct sockaddr_in *)where;
    const struct sockaddr_in6 *six = (const struct sockaddr_in6 *)where;
    return where->ss_family == AF_INET ? ntohl(four->sin_addr.s_addr) >> 24 == 127
                                       : IN6_IS_ADDR_LOOPBACK(&six->sin6_addr) != 0;
}

static bool is_all(const struct sockaddr_storage *where)
{
    const struct sockaddr_in *four = (const struct sockaddr_in *)where;
    const struct sockaddr_in6 *six = (const struct sockaddr_in6 *)where;
    return where->ss_family == AF_INET ? four->sin_addr.s_addr == INADDR_ANY
                                       : IN6_IS_ADDR_UNSPECIFIED(&six->sin6_addr) != 0;
}

int live_address_read(struct live_address *address, const char *text, struct error *err)
{
    const struct addrinfo wish = {.ai_socktype = SOCK_STREAM};
    struct addrinfo *found = NULL;
    struct in6_addr number;
    char host[LIVE_HOST_SIZE], service[24];
    long port;
    *address = (struct live_address){0};
    if (!part(host, &port, text[0] ? text : usual)) {
        return error_set(err, ERROR_USAGE,
                         "--page: expected ADDRESS:PORT like 192.168.1.20:8470, not \"%.80s\"",
                         text);
    }
    snprintf(service, sizeof service, "%ld", port);
    int code = getaddrinfo(host, service, &wish, &found);
    if (code || !found || found->ai_addrlen > sizeof address->where) {
        return error_set(err, ERROR_USAGE, "--page: %s: %s", host,
                         code ? gai_strerror(code) : "no address");
    }
    memcpy(&address->where, found->ai_addr, found->ai_addrlen);
    address->size = found->ai_addrlen;
    freeaddrinfo(found);
    address->own = is_own(&address->where);
    if (inet_pton(AF_INET, host, &number) != 1 && inet_pton(AF_INET6, host, &number) != 1) {
        snprintf(address->name, sizeof address->name, "%s", host);
    }
    return 0;
}

static int port_of(const struct sockaddr_storage *where)
{
    const struct sockaddr_in *four = (const struct sockaddr_in *)where;
    const struct sockaddr_in6 *six = (const struct sockaddr_in6 *)where;
    return ntohs(where->ss_family == AF_INET ? four->sin_port : six->sin6_port);
}

static void write_number(char *out, size_t size, const struct sockaddr_storage *where)
{
    char number[INET6_ADDRSTRLEN] = "";
    const struct sockaddr_in6 *six = (const struct sockaddr_in6 *)where;
    const void *bytes = &((const struct sockaddr_in *)where)->sin_addr;
    bool is_six = where->ss_family == AF_INET6, mapped = false;
    if (is_six) {
        mapped = IN6_IS_ADDR_V4MAPPED(&six->sin6_addr) != 0;
        bytes = six->sin6_addr.s6_addr + (mapped ? 12 : 0);
    }
    inet_ntop(is_six && !mapped ? AF_INET6 : AF_INET, bytes, number, sizeof number);
    snprintf(out, size, is_six && !mapped ? "[%s]" : "%s", number);
}

/* The first address of this computer that others can reach; leaves where as it is if there is none.
 */
static void find_reached(struct sockaddr_storage *where)
{
    struct ifaddrs *all = NULL;
    int port = port_of(where);
    if (getifaddrs(&all)) {
        return;
    }
    for (const struct ifaddrs *each = all; each; each = each->ifa_next) {
        struct sockaddr_storage one = {0};
        if (each->ifa_addr && each->ifa_addr->sa_family == AF_INET) {
            memcpy(&one, each->ifa_addr, sizeof(struct sockaddr_in));
            if (!is_own(&one)) {
                ((struct sockaddr_in *)&one)->sin_port = htons((unsigned short)port);
                *where = one;
                break;
            }
        }
    }
    freeifaddrs(all);
}

static bool find_bound(struct sockaddr_storage *where, int socket)
{
    socklen_t size = sizeof *where;
    memset(where, 0, sizeof *where);
    return getsockname(socket, (struct sockaddr *)where, &size) == 0 &&
           (where->ss_family == AF_INET || where->ss_family == AF_INET6);
}

void live_address_write_host(char *out, size_t size, int socket)
{
    struct sockaddr_storage where;
    out[0] = '\0';
    if (find_bound(&where, socket)) {
        if (is_all(&where)) {
            find_reached(&where);
        }
        write_number(out, size, &where);
        text_append(out, size, ":%d", port_of(&where));
    }
}

/* "host:port", and "host" at the usual port of the web. */
static bool is_same(const char *host, const char *name, int port)
{
    char with[LIVE_HOST_SIZE + 8];
    snprintf(with, sizeof with, "%s:%d", name, port);
    return strcasecmp(host, with) == 0 || (port == 80 && strcasecmp(host, name) == 0);
}

bool live_address_is_host(const struct live_address *address, int socket, const char *host)
{
    struct sockaddr_storage where;
    char number[LIVE_HOST_SIZE];
    if (!find_bound(&where, socket)) { /* no socket of the internet: a pair, of a test */
        return strcmp(host, "localhost") == 0;
    }
    write_number(number, sizeof number, &where);
    int port = port_of(&where);
    return is_same(host, number, port) ||
           (address->name[0] && is_same(host, address->name, port)) ||
           (is_own(&where) && is_same(host, "localhost", port));
}
