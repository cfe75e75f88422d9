/* night/alerts_parts.h: the parts of alerts_feed. */
#ifndef ALIDADE_NIGHT_ALERTS_PARTS_H
#define ALIDADE_NIGHT_ALERTS_PARTS_H

#include "night/alerts.h"

/* In a row, before something is told, and before it counts as over. */
enum { ON_SOON = 2, ON_SURE = 3, OFF_SOON = 3, OFF_SURE = 8 };

/* The list that a call fills. */
struct told {
    struct alert *out;
    int count;
};

/* Adds a message, unless the list is full. */
__attribute__((format(printf, 3, 4))) void alerts_tell(struct told *told, enum alert_kind kind,
                                                       const char *format, ...);

enum turn { SAME, BEGUN, OVER };

/* Counts a frame that is bad, good or neither; on and off: so many in a row begin it and end it. */
enum turn alerts_rule(struct alert_rule *rule, bool bad, bool good, int on, int off);

/* Counts a frame during which the rule stays raised; true when it is time to tell it again. */
bool alerts_again(struct alert_rule *rule);
/* The same, for the first time after so many frames instead of 25. */
bool alerts_again_after(struct alert_rule *rule, int first);
/* Adds a message that has been told rule->again times before. */
__attribute__((format(printf, 4, 5))) void alerts_tell_again(struct told *told,
                                                             enum alert_kind kind,
                                                             const struct alert_rule *rule,
                                                             const char *format, ...);

/* Cloud, dew, focus, sky, trails: what the stars and the sky look like beside the best that was.
 * passed_s: since the frame before. */
void alerts_feed_light(struct told *told, struct alerts *alerts, const struct night_frame *frame,
                       double passed_s);
/* Frames to come are not held against those before any more. */
void alerts_forget_light(struct alerts *alerts);

/* Where a solved frame has the target. */
void alerts_feed_aim(struct told *told, struct alerts *alerts, const struct night_step *step);

#endif
