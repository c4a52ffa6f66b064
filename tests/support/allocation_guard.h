// Counts this thread's allocations and mutex locks between making it and asking; any thread, nests.
#pragma once

#include <cstddef>

namespace landfall::test {

class AllocationGuard {
public:
    AllocationGuard();
    std::size_t allocations() const;
    std::size_t locks() const;
    // False in sanitizer builds, which replace the same functions.
    static bool watching();

private:
    std::size_t allocationsBefore;
    std::size_t locksBefore;
};

}  // namespace landfall::test
