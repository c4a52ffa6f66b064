// The tables of the log, version by version. Plain functions, any thread.
#pragma once

#include <string>
#include <vector>

namespace landfall {

// A random UUID (RFC 4122, version 4) as an SQL expression, another for each row.
extern const char* const newUuid;

// Brings the schema from `version` to the next. What is in the file stays.
std::vector<std::string> stepFrom(int version);

}  // namespace landfall
