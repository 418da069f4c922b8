using Traceability.Postgres;
using Traceability.Service;
using Traceability.Service.Storage.Schema;

if (args is [ContractsCommand.Name, var folder])
{
    return await ContractsCommand.RunAsync(folder);
}

try
{
    if (args is [MigrateCommand.Name, .. var rest])
    {
        return await MigrateCommand.RunAsync(rest, Console.Out);
    }

    await using var service = await TraceabilityService.CreateAsync(args);
    await service.App.RunAsync();
    return 0;
}
catch (Exception trouble) when (trouble is EmbeddedPostgresException or SchemaException)
{
    // Its message is for the person who started the service: what is in the way of the database, and what to do.
    await Console.Error.WriteLineAsync(trouble.Message);
    return 1;
}
