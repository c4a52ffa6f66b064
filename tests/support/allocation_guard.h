// Counts the calls of operator new between two moments, to show that a path does not allocate. One thread.
#pragma once

#include <cstddef>

namespace landfall {

class AllocationGuard {
public:
    AllocationGuard();
    std::size_t allocations() const;  // since construction

private:
    std::size_t before;
};

}  // namespace landfall
