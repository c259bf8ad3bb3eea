"""The outside comes in: Modbus links, what is read in one request, and when. The only home of pymodbus."""
