#include "cli/json_tables.h"

#include "cli/aim_schema.h"
#include "cli/learn_lens_report.h"
#include "cli/object_schema.h"
#include "cli/plan_schema.h"
#include "cli/review_schema.h"
#include "cli/watch_schema.h"
#include "match/index_schema.h"
#include "night/emergence.h"
#include "night/night_frame.h"
#include "page/live_schema.h"

const struct schema *const json_tables[] = {&night_frame_schema,
                                            &learned_lens_schema,
                                            &aim_schema,
                                            &aim_series_schema,
                                            &learned_head_schema,
                                            &learned_skyline_schema,
                                            &plan_schema,
                                            &plan_target_schema,
                                            &alert_schema,
                                            &emergence_line_schema,
                                            &live_schema,
                                            &live_sight_schema,
                                            &live_others_schema,
                                            &object_schema,
                                            &object_list_schema,
                                            &review_schema,
                                            &index_schema,
                                            NULL};
