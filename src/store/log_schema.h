// The tables of the log, version by version. Plain functions, any thread.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "src/music/guitar.h"

namespace landfall {

class Connection;
class Statement;

// A random UUID (RFC 4122, version 4) as an SQL expression, another for each row.
extern const char* const newUuid;

// Brings the schema from `version` to the next. What is in the file stays.
std::vector<std::string> stepFrom(int version);

// A guitar from name, tuning, capo, highest_fret, left_handed, a4_hz, gauges_inch, plain_strings, scale_mm,
// radius_mm and action_mm, which stand in this order from column `from` on.
Guitar readGuitar(Statement& row, int from);
// The row of the guitar as it is now, made where there is none, so that what was played on it before keeps its
// instrument; what it was meanwhile without having been played goes. Within a transaction.
std::int64_t guitarRow(Connection& sql, const Guitar& guitar);

}  // namespace landfall
