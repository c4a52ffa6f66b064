#include "tests/support/allocation_guard.h"

#include <atomic>
#include <cstdlib>
#include <new>

namespace {
std::atomic<std::size_t> calls{0};
}

void* operator new(std::size_t size) {
    calls.fetch_add(1, std::memory_order_relaxed);
    if (void* memory = std::malloc(size == 0 ? 1 : size)) return memory;
    throw std::bad_alloc();
}
void operator delete(void* memory) noexcept { std::free(memory); }
void operator delete(void* memory, std::size_t) noexcept { std::free(memory); }

namespace landfall {

AllocationGuard::AllocationGuard() : before(calls.load()) {}
std::size_t AllocationGuard::allocations() const { return calls.load() - before; }

}  // namespace landfall
