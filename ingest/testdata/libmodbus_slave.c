/* One Modbus RTU unit by libmodbus: holding registers 0 and 1 hold 113.25 as a float of IEEE 754, words in the order ABCD,
 * and input register 7 holds -1234. Arguments: the terminal, the unit. */
#include <errno.h>
#include <modbus.h>
#include <stdio.h>
#include <stdlib.h>

int main(int argc, char **argv) {
	if (argc != 3)
		return 2;
	modbus_t *ctx = modbus_new_rtu(argv[1], 19200, 'N', 8, 1);
	if (!ctx || modbus_set_slave(ctx, atoi(argv[2])) || modbus_connect(ctx)) {
		fprintf(stderr, "%s\n", modbus_strerror(errno));
		return 1;
	}
	modbus_mapping_t *map = modbus_mapping_new(0, 0, 10, 10);
	if (!map)
		return 1;
	map->tab_registers[0] = 0x42E2; /* 113.25 is 42E28000; set by words, as the library's own setters differ by version */
	map->tab_registers[1] = 0x8000;
	map->tab_input_registers[7] = (uint16_t)-1234;
	for (;;) {
		uint8_t query[MODBUS_RTU_MAX_ADU_LENGTH];
		int n = modbus_receive(ctx, query);
		if (n > 0)
			modbus_reply(ctx, query, n, map);
		else if (n == -1 && errno != EMBBADCRC && errno != ETIMEDOUT)
			return 0;
	}
}
