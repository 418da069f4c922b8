using Traceability.Service;

if (args is [ContractsCommand.Name, var folder])
{
    return await ContractsCommand.RunAsync(folder);
}

await using var service = await TraceabilityService.CreateAsync(args);
await service.App.RunAsync();
return 0;
