#include "tests/support/allocation_guard.h"

#include <dlfcn.h>
#include <pthread.h>

namespace {

thread_local std::size_t allocationCount = 0;
thread_local std::size_t lockCount = 0;

}  // namespace

#if defined(__SANITIZE_ADDRESS__) || defined(__SANITIZE_THREAD__)
#define LANDFALL_SANITIZED 1
#elif defined(__has_feature)
#if __has_feature(address_sanitizer) || __has_feature(thread_sanitizer)
#define LANDFALL_SANITIZED 1
#endif
#endif

#ifndef LANDFALL_SANITIZED
// glibc's own functions stay underneath; operator new ends here too.
extern "C" {
void* __libc_malloc(std::size_t);
void* __libc_calloc(std::size_t, std::size_t);
void* __libc_realloc(void*, std::size_t);

void* malloc(std::size_t size) {
    ++allocationCount;
    return __libc_malloc(size);
}
void* calloc(std::size_t count, std::size_t size) {
    ++allocationCount;
    return __libc_calloc(count, size);
}
void* realloc(void* block, std::size_t size) {
    ++allocationCount;
    return __libc_realloc(block, size);
}
int pthread_mutex_lock(pthread_mutex_t* mutex) {
    static auto* const real = reinterpret_cast<int (*)(pthread_mutex_t*)>(dlsym(RTLD_NEXT, "pthread_mutex_lock"));
    ++lockCount;
    return real(mutex);
}
}
#endif

namespace landfall::test {

AllocationGuard::AllocationGuard() : allocationsBefore(allocationCount), locksBefore(lockCount) {}
std::size_t AllocationGuard::allocations() const { return allocationCount - allocationsBefore; }
std::size_t AllocationGuard::locks() const { return lockCount - locksBefore; }

bool AllocationGuard::watching() {
#ifdef LANDFALL_SANITIZED
    return false;
#else
    return true;
#endif
}

}  // namespace landfall::test
