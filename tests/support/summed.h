// Several sounds at once. Plain functions.
#pragma once

#include <algorithm>
#include <initializer_list>
#include <vector>

namespace landfall {

inline std::vector<float> summed(std::initializer_list<std::vector<float>> sounds) {
    std::vector<float> all;
    for (const std::vector<float>& sound : sounds) {
        all.resize(std::max(all.size(), sound.size()));
        for (std::size_t n = 0; n < sound.size(); ++n) all[n] += sound[n];
    }
    return all;
}

}  // namespace landfall
