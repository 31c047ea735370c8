#include "report/record.hpp"
