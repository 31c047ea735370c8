// TIPWRIGHT_WIDE before a function: compile it for several vector widths and choose when the program
// starts. All of them do the same IEEE operations, so results do not depend on the choice.
#pragma once

// The dynamic loader resolves such functions before a sanitizer's runtime is ready.
#if defined(__SANITIZE_THREAD__) || defined(__SANITIZE_ADDRESS__)
#define TIPWRIGHT_SANITIZED 1
#elif defined(__has_feature)
#if __has_feature(thread_sanitizer) || __has_feature(address_sanitizer) || __has_feature(memory_sanitizer)
#define TIPWRIGHT_SANITIZED 1
#endif
#endif

#if defined(__x86_64__) && defined(__linux__) && defined(__GLIBC__) && !defined(TIPWRIGHT_SANITIZED)
#define TIPWRIGHT_WIDE __attribute__((target_clones("avx512f", "avx2", "default")))
#else
#define TIPWRIGHT_WIDE
#endif
