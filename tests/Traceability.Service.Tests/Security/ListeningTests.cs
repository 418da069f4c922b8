using System.Net;
using System.Net.Sockets;
using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Http;
using Traceability.Service.Security;
using Traceability.Testing;
using Xunit;

namespace Traceability.Service.Tests.Security;

public sealed class ListeningTests
{
    [Theory]
    [InlineData("http://0.0.0.0:0")]
    [InlineData("http://[::]:0")]
    [InlineData("http://*:45321")]
    public async Task The_service_refuses_an_address_that_other_machines_reach(string url)
    {
        await using var database = await PostgresServer.CreateDatabaseAsync();
        var folder = Directory.CreateTempSubdirectory("traceability-listening-").FullName;
        await using var service = await TraceabilityService.CreateAsync(
        [
            "--urls", url, $"--ConnectionStrings:Traceability={database.ConnectionString}", $"--Postgres:DataFolder={folder}", "--Logging:LogLevel:Default=None",
        ]);

        var refusal = await Assert.ThrowsAsync<InvalidOperationException>(() => service.App.StartAsync());

        Assert.Contains("Access:AllowNonLoopback=true", refusal.Message, StringComparison.Ordinal);
        Directory.Delete(folder, recursive: true);
    }

    [Fact]
    public void Loopback_and_unix_sockets_are_the_machines_own()
    {
        LoopbackOnly.Require(new IPEndPoint(IPAddress.Loopback, 5080), new());
        LoopbackOnly.Require(new IPEndPoint(IPAddress.Parse("127.8.8.8"), 5080), new());
        LoopbackOnly.Require(new IPEndPoint(IPAddress.IPv6Loopback, 5080), new());
        LoopbackOnly.Require(new UnixDomainSocketEndPoint("/tmp/x"), new());
        Assert.Throws<InvalidOperationException>(() => LoopbackOnly.Require(new IPEndPoint(IPAddress.Parse("192.0.2.7"), 5080), new()));
    }

    [Fact]
    public void Other_addresses_are_used_when_that_is_allowed() =>
        LoopbackOnly.Require(new IPEndPoint(IPAddress.Any, 5080), new() { AllowNonLoopback = true });

    [Theory]
    [InlineData(null, false, false)]
    [InlineData("", false, false)]
    [InlineData("recrd", false, false)]
    [InlineData(Policies.Record, false, true)]
    [InlineData(Policies.Record, true, false)]
    public void An_endpoint_names_one_of_the_policies_or_says_that_it_is_open(string? policy, bool isOpenToo, bool isRight)
    {
        List<object> metadata = policy is null ? [] : [new AuthorizeAttribute { Policy = policy.Length == 0 ? null : policy }];
        if (isOpenToo)
        {
            metadata.Add(new AllowAnonymousAttribute());
        }

        var endpoint = new Endpoint(_ => Task.CompletedTask, new(metadata), "GET /thing");

        Assert.Equal(isRight ? [] : ["GET /thing"], EndpointPolicies.Missing([endpoint]));
    }
}
