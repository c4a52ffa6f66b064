#include "src/music/name_match.h"

#include <algorithm>
#include <cctype>

namespace landfall {

namespace {

// Levenshtein 1966: insertions, deletions and substitutions, one row of the table at a time.
std::size_t editDistance(std::string_view a, std::string_view b) {
    std::vector<std::size_t> row(b.size() + 1);
    for (std::size_t j = 0; j <= b.size(); ++j) row[j] = j;
    for (std::size_t i = 1; i <= a.size(); ++i) {
        std::size_t diagonal = row[0];
        row[0] = i;
        for (std::size_t j = 1; j <= b.size(); ++j) {
            const std::size_t substituted = diagonal + (a[i - 1] == b[j - 1] ? 0 : 1);
            diagonal = row[j];
            row[j] = std::min({row[j] + 1, row[j - 1] + 1, substituted});
        }
    }
    return row.back();
}

}  // namespace

std::string fileNameFor(std::string name) {
    std::replace(name.begin(), name.end(), '/', '-');
    return name;
}

std::string matchKey(std::string_view name) {
    std::string key;
    for (const char c : name) {
        if (c == ' ' || c == '-' || c == '_' || c == '\t') {
            if (!key.empty() && key.back() != '-') key += '-';
        } else {
            key += static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
        }
    }
    if (!key.empty() && key.back() == '-') key.pop_back();
    return key;
}

std::vector<std::string> nearestNames(std::string_view typed, const std::vector<std::string>& names, std::size_t most) {
    const std::string key = matchKey(typed);
    std::vector<std::pair<std::size_t, std::string>> ranked;
    for (const std::string& name : names) {
        const std::string other = matchKey(name);
        // A name that contains what was typed is as near as one slip of the finger, whatever its length.
        const std::size_t distance =
            !key.empty() && other.find(key) != std::string::npos ? 1 : editDistance(key, other);
        if (distance < std::max(key.size(), other.size())) ranked.emplace_back(distance, name);
    }
    std::stable_sort(ranked.begin(), ranked.end(), [](const auto& a, const auto& b) { return a.first < b.first; });
    std::vector<std::string> nearest;
    for (const auto& [distance, name] : ranked)
        if (nearest.size() < most) nearest.push_back(name);
    return nearest;
}

}  // namespace landfall
