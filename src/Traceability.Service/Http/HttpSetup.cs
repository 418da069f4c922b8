using System.Text.Json;
using System.Text.Json.Serialization;
using Microsoft.AspNetCore.Diagnostics;
using Microsoft.AspNetCore.Server.Kestrel.Core;
using Microsoft.AspNetCore.Server.Kestrel.Transport.Sockets;
using Microsoft.Extensions.Options;
using Traceability.Contracts;

namespace Traceability.Service.Http;

/// <summary>What every request passes through, whatever the feature.</summary>
internal static class HttpSetup
{
    /// <summary>Adds problem documents, JSON rules and the limits of connections.</summary>
    public static void AddHttp(this WebApplicationBuilder builder)
    {
        var services = builder.Services;
        services.AddOptions<HttpOptions>().BindConfiguration(HttpOptions.SectionName).ValidateDataAnnotations().ValidateOnStart();
        services.AddProblemDetails(o => o.CustomizeProblemDetails = Problems.AddTraceId);
        services.AddExceptionHandler<ExceptionProblems>();

        // Else a value that can't be bound is a bare 400 in one environment and an exception in another.
        services.Configure<RouteHandlerOptions>(o => o.ThrowOnBadRequest = true);
        services.ConfigureHttpJsonOptions(o => ConfigureJson(o.SerializerOptions));
        services.AddOptions<KestrelServerOptions>().Configure<IOptions<HttpOptions>>(ConfigureServer);
        services.AddOptions<SocketTransportOptions>().Configure<IOptions<HttpOptions>>(ConfigureSockets);

        // Nothing that handles a request blocks its thread, so it needn't be handed from one thread to the next on its way.
        services.Configure<SocketTransportOptions>(o => o.UnsafePreferInlineScheduling = true);
    }

    /// <summary>Errors, headers and routing; what follows knows the endpoint.</summary>
    public static void UseHttp(this WebApplication app)
    {
        app.UseSecurityHeaders();
        app.UseExceptionHandler();
        app.UseStatusCodePages(ExplainAsync);
        app.UseRouting();
    }

    private static Task ExplainAsync(StatusCodeContext context)
    {
        var http = context.HttpContext;
        var kind = ProblemKind.OfStatus(http.Response.StatusCode, http.GetEndpoint()?.RequestDelegate is not null);
        return Problems.WriteAsync(http, kind, Detail(kind, http));
    }

    private static string Detail(ProblemKind kind, HttpContext context) => kind.Status switch
    {
        StatusCodes.Status404NotFound when kind == ProblemKind.RouteUnknown => $"Nothing is at {context.Request.Path}. The addresses are listed in /openapi.json and /docs.",
        StatusCodes.Status405MethodNotAllowed => $"{context.Request.Path} does not take {context.Request.Method}; it takes {context.Response.Headers.Allow}.",
        StatusCodes.Status413PayloadTooLarge => BodyLimit.Explain(context),
        StatusCodes.Status415UnsupportedMediaType when context.Request.ContentType is { } type => $"'{type}' is not taken here; /docs says what is.",
        StatusCodes.Status415UnsupportedMediaType => "The request needs a Content-Type header; /docs says what is taken here.",
        _ => kind.Title,
    };

    private static void ConfigureJson(JsonSerializerOptions json)
    {
        // The form is that of the contract's own messages.
        var wire = WireJson.Create();
        json.PropertyNamingPolicy = wire.PropertyNamingPolicy;
        json.DefaultIgnoreCondition = wire.DefaultIgnoreCondition;
        json.AllowOutOfOrderMetadataProperties = wire.AllowOutOfOrderMetadataProperties;
        json.Encoder = wire.Encoder;
        foreach (var converter in wire.Converters)
        {
            json.Converters.Add(converter);
        }

        // A member that is not known, or is there twice, is an error of the sender: refused, never dropped.
        json.UnmappedMemberHandling = JsonUnmappedMemberHandling.Disallow;
        json.AllowDuplicateProperties = false;
        json.NumberHandling = JsonNumberHandling.Strict;
        json.PropertyNameCaseInsensitive = false;
        json.RespectNullableAnnotations = true;
        json.RespectRequiredConstructorParameters = true;
    }

    private static void ConfigureServer(KestrelServerOptions server, IOptions<HttpOptions> options)
    {
        var limits = options.Value;
        server.AddServerHeader = false;
        server.Limits.MaxRequestBodySize = BodyLimit.Default.Bytes;
        server.Limits.RequestHeadersTimeout = limits.HeadersTimeout;
        server.Limits.MinRequestBodyDataRate = new(limits.BytesPerSecondMin, limits.RateGracePeriod);
        server.Limits.MinResponseDataRate = new(limits.AnswerBytesPerSecondMin, limits.RateGracePeriod);
        server.Limits.KeepAliveTimeout = limits.KeepAlive;
        server.Limits.MaxConcurrentConnections = limits.ConnectionsMax;
    }

    // What listens hands its buffer's size down to the connections that it accepts.
    private static void ConfigureSockets(SocketTransportOptions sockets, IOptions<HttpOptions> options) => sockets.CreateBoundListenSocket = endpoint =>
    {
        var socket = SocketTransportOptions.CreateDefaultBoundListenSocket(endpoint);
        socket.SendBufferSize = options.Value.SendBufferBytes;
        return socket;
    };
}
