using Traceability.Service;

await using var service = await TraceabilityService.CreateAsync(args);
await service.App.RunAsync();
