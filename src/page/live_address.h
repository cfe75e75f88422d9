/* page/live_address.h: where a page is to be had. */
#ifndef ALIDADE_PAGE_LIVE_ADDRESS_H
#define ALIDADE_PAGE_LIVE_ADDRESS_H

#include "base/error.h"

#include <stdbool.h>
#include <stddef.h>
#include <sys/socket.h>

enum { LIVE_HOST_SIZE = 80 };

struct live_address {
    struct sockaddr_storage where;
    socklen_t size;
    bool own;                  /* nobody but this computer can reach it */
    char name[LIVE_HOST_SIZE]; /* the host as it was typed, where that is no number; else "" */
};

/* Whether text is ADDRESS:PORT: "192.168.1.20:8470", "[::]:8470", "tripod.local:8470". Nothing is
 * looked up. */
bool live_address_is_one(const char *text);

/* From such a text, or for "" this computer alone at the usual port; port 0 is any that is free.
 * ERROR_USAGE for what is none, or a name that nobody knows. */
int live_address_read(struct live_address *address, const char *text, struct error *err);

/* What comes before the path: "192.168.1.20:8470", of the socket as it is bound. For one that
 * listens on all addresses, the first of this computer's that others can reach. "" if it is no
 * address of the internet. */
void live_address_write_host(char *out, size_t size, int socket);

/* Whether a request may name that host: the address that it came to, localhost for this computer's
 * own, or the name that the page was opened under; with the port. A page of another name that leads
 * here by its own name server is not to be believed. */
bool live_address_is_host(const struct live_address *address, int socket, const char *host);

#endif
