// Starts, watches and kills a process of our own program, and shares memory with it. Each object belongs to one thread;
// no call but the destructors waits.
#pragma once

#include <cstddef>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "src/system/result.h"

namespace landfall {

// Memory without a name, so that nothing is left behind however either side ends. Zeroed, and touched once, when made.
class SharedMemory {
public:
    static Result<SharedMemory> create(std::size_t bytes);
    // In the child: the memory its parent started it with.
    static Result<SharedMemory> fromParent(std::size_t bytes);

    SharedMemory(SharedMemory&& other) noexcept;
    SharedMemory& operator=(SharedMemory&& other) noexcept;
    ~SharedMemory();

    void* data() const { return address; }

private:
    friend class ChildProcess;
    SharedMemory(int handle, void* where, std::size_t bytes) : descriptor(handle), address(where), length(bytes) {}
    int descriptor = -1;
    void* address = nullptr;
    std::size_t length = 0;
};

// The child's input is a pipe that closes when the parent ends or the object is destroyed; its output and errors go
// nowhere (sound libraries print a hundred lines at every start). It is outside the terminal's foreground group: ctrl-C
// is the parent's affair.
class ChildProcess {
public:
    static Result<ChildProcess> start(const std::filesystem::path& program, const std::vector<std::string>& arguments,
                                      const SharedMemory& memory);

    ChildProcess(ChildProcess&& other) noexcept;
    ChildProcess& operator=(ChildProcess&& other) noexcept;
    // Kills it if it still runs, and waits at most 50 ms for its end.
    ~ChildProcess();

    bool running();
    // After the end, for example "it ended with status 1" or "it was ended by signal 9".
    std::string ending() const;
    // Cannot be refused by the child; running() tells when it took effect.
    void kill();
    long id() const { return process; }

private:
    ChildProcess(long id, int inputPipe) : process(id), pipe(inputPipe) {}
    long process = -1;
    int pipe = -1;
    std::optional<int> status;
};

// The child calls this first: from then on it ends at once when its parent does, even if a library call hangs.
void endWithParent();

}  // namespace landfall
