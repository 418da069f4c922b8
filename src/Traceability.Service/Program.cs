using Traceability.Postgres;
using Traceability.Service;

if (args is [ContractsCommand.Name, var folder])
{
    return await ContractsCommand.RunAsync(folder);
}

try
{
    await using var service = await TraceabilityService.CreateAsync(args);
    await service.App.RunAsync();
    return 0;
}
catch (EmbeddedPostgresException trouble)
{
    // Its message is for the person who started the service: what is in the way of the database, and what to do.
    await Console.Error.WriteLineAsync(trouble.Message);
    return 1;
}
