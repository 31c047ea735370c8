// Locks of links: one program at a time, the same device under any name, and no work where there are no
// locks.
#include "bench/links/link_lock.hpp"

#include <fcntl.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <chrono>

#include <catch2/catch.hpp>

#include "tests/support/paths.hpp"

using namespace tipwright;
using namespace tipwright::bench;

TEST_CASE("a link in use is refused under any of its names, and free once its user lets go") {
    lock_policy() = {test::scratch_dir(), false};
    const auto device = test::scratch_dir() / "device";
    const auto other_name = test::scratch_dir() / "other-name";
    std::filesystem::create_symlink("/dev/null", device);
    std::filesystem::create_symlink(device, other_name);
    {
        const auto first = LinkLock::take("pty " + device.string());
        REQUIRE(first.ok());
        const auto second = LinkLock::take("serial " + other_name.string());
        REQUIRE_FALSE(second.ok());
        CHECK(second.fault().code == FaultCode::link_lost);
        // It is this very program that uses it.
        CHECK(second.fault().what == "is in use by this program already, as \"pty " + device.string() + "\"");
        CHECK(device_of("pty " + device.string()) == device_of("serial " + other_name.string()));
        const auto net = LinkLock::take("tcp 127.0.0.1:4001");
        CHECK(net.ok());
        CHECK_FALSE(LinkLock::take("tcp localhost:4001").ok());
        CHECK_FALSE(LinkLock::take("tcp [::1]:4001").ok());
        for (const char* same :
             {"tcp 127.0.0.1:04001", "tcp [::ffff:127.0.0.1]:4001", "tcp 0.0.0.0:4001", "tcp [::]:4001"})
            CHECK_FALSE(LinkLock::take(same).ok());
        CHECK(LinkLock::take("tcp localhost:4002").ok());
    }
    CHECK(LinkLock::take("pty " + other_name.string()).ok());
    lock_policy() = {};
}

TEST_CASE("a link of a folder is one link however the way to it is said") {
    lock_policy() = {test::scratch_dir(), false};
    const auto before = std::filesystem::current_path();
    std::filesystem::current_path(test::scratch_dir());
    std::filesystem::create_directory("sub");
    std::filesystem::create_symlink("/dev/zero", "port");
    std::filesystem::create_symlink("../port", "sub/port");
    {
        const auto first = LinkLock::take("pty port");
        CHECK(first.ok());
        for (const std::string same : {"./port", "sub/port", "sub/../port", "/dev/zero"})
            CHECK_FALSE(LinkLock::take("pty " + same).ok());
    }
    std::filesystem::current_path(before);
    lock_policy() = {};
}

TEST_CASE("a pipe in the place of a lock holds nobody up") {
    lock_policy() = {test::scratch_dir(), false};
    REQUIRE(::mkfifo((test::scratch_dir() / "tipwright--dev-full.lock").c_str(), 0644) == 0);
    static_cast<void>(LinkLock::take("pty /dev/full"));
    lock_policy() = {};
}

TEST_CASE("where nothing can be locked the work is refused, unless somebody says otherwise") {
    lock_policy() = {test::scratch_dir() / "no such folder", false};
    const auto refused = LinkLock::take("pty /dev/pts/99");
    REQUIRE_FALSE(refused.ok());
    CHECK(refused.fault().code == FaultCode::not_permitted);
    lock_policy().without_locks = true;
    CHECK(LinkLock::take("pty /dev/pts/99").ok());
    lock_policy() = {};
    CHECK(lock_failure(ENOLCK, "journal", "held", {})->code == FaultCode::not_permitted);
    CHECK_FALSE(lock_failure(EOPNOTSUPP, "journal", "held", {{}, true}));
    CHECK(lock_failure(EWOULDBLOCK, "journal", "held", {{}, true})->what == "held");
}

TEST_CASE("a lock whose file was removed while it is held is held anew") {
    lock_policy() = {test::scratch_dir(), false};
    const auto path = test::scratch_dir() / "tipwright--dev-random.lock";
    auto lock = LinkLock::take("pty /dev/random");
    REQUIRE(lock.ok());
    REQUIRE(std::filesystem::remove(path));
    CHECK((*lock)->renew());
    // As another program would try it.
    const int other = ::open(path.c_str(), O_RDONLY);
    REQUIRE(other >= 0);
    CHECK(::flock(other, LOCK_EX | LOCK_NB) != 0);
    // One that was faster is told of, for as long as it goes on.
    REQUIRE(std::filesystem::remove(path));
    const int faster = ::open(path.c_str(), O_RDONLY | O_CREAT | O_EXCL, 0644);
    REQUIRE(faster >= 0);
    REQUIRE(::flock(faster, LOCK_EX | LOCK_NB) == 0);
    CHECK_FALSE((*lock)->renew());
    ::close(faster);
    CHECK((*lock)->renew());
    ::close(other);
    lock->reset();
    CHECK(LinkLock::take("pty /dev/random").ok());
    lock_policy() = {};
}

TEST_CASE("whoever comes by often looks for the lock's file once a quarter of a second, and misses none") {
    lock_policy() = {test::scratch_dir(), false};
    const auto path = test::scratch_dir() / "tipwright--dev-random.lock";
    auto lock = LinkLock::take("pty /dev/random");
    REQUIRE(lock.ok());
    const auto begin = std::chrono::steady_clock::now();
    (*lock)->renew_if_due(begin);
    REQUIRE(std::filesystem::remove(path));
    (*lock)->renew_if_due(begin + link_lock_look - std::chrono::milliseconds(1));
    CHECK_FALSE(std::filesystem::exists(path));
    (*lock)->renew_if_due(begin + link_lock_look);
    REQUIRE(std::filesystem::exists(path));
    const int other = ::open(path.c_str(), O_RDONLY);
    CHECK(::flock(other, LOCK_EX | LOCK_NB) != 0);
    // And again a period later, also where another file has its name.
    REQUIRE(std::filesystem::remove(path));
    const int stranger = ::open(path.c_str(), O_RDONLY | O_CREAT | O_EXCL, 0644);
    REQUIRE(stranger >= 0);
    ::close(stranger);
    (*lock)->renew_if_due(begin + 2 * link_lock_look);
    const int anew = ::open(path.c_str(), O_RDONLY);
    CHECK(::flock(anew, LOCK_EX | LOCK_NB) != 0);
    ::close(anew);
    ::close(other);
    CHECK(link_lock_look <= std::chrono::milliseconds(250));
    lock->reset();
    lock_policy() = {};
}
